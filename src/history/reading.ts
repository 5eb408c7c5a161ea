import type { SqlRow } from "./connection.js";
import type { Estimated } from "./recording-entry.js";

/** One quantity of one recording, as a trend takes it. */
export interface HistoryReading {
  readonly battery: string;
  readonly hash: string;
  readonly atS: number;
  readonly aircraft: string | null;
  readonly report: string | null;
  readonly temperatureC: number | null;
  readonly stateOfCharge: number | null;
  readonly quantity: Estimated;
  readonly load: string | null;
  readonly afterS: number | null;
  readonly value: number;
  readonly u: number;
}

/** The columns of a reading that are fetched packed in a JSON array, in this order. */
export const PACKED_COLUMNS =
  "at_s, hash, aircraft, report, temperature_c, state_of_charge, quantity, load, after_s, value, u";

export type PackedReading = readonly [
  atS: number,
  hash: string,
  aircraft: string | null,
  report: string | null,
  temperatureC: number | null,
  stateOfCharge: number | null,
  quantity: Estimated,
  load: string,
  afterS: number,
  value: number,
  u: number,
];

/** The reading of a packed array in the row of its battery. */
export function readingOf(row: SqlRow, packed: PackedReading): HistoryReading {
  const [atS, hash, aircraft, report, temperatureC, stateOfCharge, quantity, load, afterS, value, u] = packed;
  return {
    battery: String(row.battery_id),
    hash,
    atS,
    aircraft,
    report,
    temperatureC,
    stateOfCharge,
    quantity,
    load: load === "" ? null : load,
    afterS: afterS < 0 ? null : afterS,
    value,
    u,
  };
}
