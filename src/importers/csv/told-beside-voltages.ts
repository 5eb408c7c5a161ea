import type { Recording } from "../../core/index.js";
import { InputError } from "../input-error.js";
import type { PlaceOf, ValueRole } from "./series-set.js";

type Values = ReadonlyMap<ValueRole, Float64Array>;

/**
 * What the log tells of each of its `count` voltage readings: its uncertainty, and what it would change by if the needle lay
 * aside, volts. What has no column is left out.
 *
 * @throws {InputError} where one is no uncertainty, or there is no number.
 */
export function toldBesideVoltages(
  values: Values,
  count: number,
  placeOf: PlaceOf,
): Pick<Recording, "readingUncertaintiesV" | "asidesV"> {
  const readingUncertaintiesV = besideVoltages(values, "uncertainty", count, (value) => value > 0, {
    placeOf,
    problem: "this reading has no standard uncertainty above zero",
    remedy: "mend the line, or say --uncertainty-column 0 to leave that column out",
  });
  const asidesV = besideVoltages(values, "aside", count, Number.isFinite, {
    placeOf,
    problem: "this reading has no number in the column aside_V",
    remedy: "mend the line, or read the needle's clip again",
  });
  return {
    ...(readingUncertaintiesV === null ? {} : { readingUncertaintiesV }),
    ...(asidesV === null ? {} : { asidesV }),
  };
}

/** The values of a role that stand beside a voltage; null where the log has no such column. */
function besideVoltages(
  values: Values,
  role: ValueRole,
  count: number,
  isValid: (value: number) => boolean,
  { placeOf, problem, remedy }: { readonly placeOf: PlaceOf; readonly problem: string; readonly remedy: string },
): Float64Array | null {
  const voltages = values.get("voltage")!;
  const beside = values.get(role);
  if (beside === undefined) return null;
  const kept = count === voltages.length ? beside : new Float64Array(count);
  let at = 0;
  for (let i = 0; i < voltages.length; i += 1) {
    if (Number.isNaN(voltages[i])) continue;
    if (!isValid(beside[i]!)) throw new InputError({ ...placeOf(i), problem, remedy });
    kept[at] = beside[i]!;
    at += 1;
  }
  return kept;
}
