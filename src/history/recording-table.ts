import type { Connection, SqlRow, SqlValue } from "./connection.js";
import type { AnswerEntry, DipEntry, Estimated, EstimateEntry, NoteEntry, RecordingEntry } from "./recording-entry.js";

const COLUMNS = [
  "hash",
  "battery_id",
  "aircraft",
  "bus",
  "at_s",
  "source",
  "sample_count",
  "duration_s",
  "sample_rate_hz",
  "sigma_v",
  "temperature_c",
  "state_of_charge",
  "required_endurance_min",
  "report",
  "software",
  "remark",
] as const;

const INSERT = `INSERT INTO recording (${COLUMNS.join(", ")}) VALUES (${COLUMNS.map(() => "?").join(", ")})`;

/** Writes a recording with all that belongs to it; to be called within a transaction. */
export function insertRecording(connection: Connection, entry: RecordingEntry): void {
  connection.run(INSERT, [
    entry.hash,
    entry.battery,
    entry.aircraft,
    entry.bus,
    entry.atS,
    entry.source,
    entry.sampleCount,
    entry.durationS,
    entry.sampleRateHz,
    entry.sigmaV,
    entry.temperatureC,
    entry.stateOfCharge,
    entry.requiredEnduranceMin,
    entry.report,
    entry.software,
    entry.remark,
  ]);
  const id = Number(connection.all("SELECT id FROM recording WHERE hash = ?", [entry.hash])[0].id);
  insertAll(
    connection,
    "dip",
    ["recording_id", "number", "onset_s", "release_s", "depth_v", "u_v", "load"],
    entry.dips.map((dip, number) => [id, number, dip.onsetS, dip.releaseS, dip.depthV, dip.uV, dip.load]),
  );
  insertAll(
    connection,
    "estimate",
    ["recording_id", "quantity", "load", "after_s", "value", "u", "low", "high", "coverage", "route"],
    entry.estimates.map((estimate) => [
      id,
      estimate.quantity,
      estimate.load ?? "",
      estimate.afterS ?? -1,
      estimate.value,
      estimate.u,
      estimate.low,
      estimate.high,
      estimate.coverage,
      estimate.route,
    ]),
  );
  insertAll(
    connection,
    "answer",
    ["recording_id", "load", "name", "verdict", "p_value", "switching_count"],
    entry.answers.map((answer) => [id, answer.load, answer.name, answer.verdict, answer.pValue, answer.switchingCount]),
  );
  insertAll(
    connection,
    "note",
    ["recording_id", "number", "kind", "code", "text"],
    entry.notes.map((note, number) => [id, number, note.kind, note.code, note.text]),
  );
}

/** One statement for several rows: a server answers once instead of once per row. */
function insertAll(
  connection: Connection,
  table: string,
  columns: readonly string[],
  rows: readonly (readonly SqlValue[])[],
): void {
  const places = `(${columns.map(() => "?").join(", ")})`;
  for (let start = 0; start < rows.length; start += 40) {
    const some = rows.slice(start, start + 40);
    connection.run(
      `INSERT INTO ${table} (${columns.join(", ")}) VALUES ${some.map(() => places).join(", ")}`,
      some.flat(),
    );
  }
}

/** The recording of a row of its table, with all that belongs to it. */
export function readRecording(connection: Connection, row: SqlRow): RecordingEntry {
  const rows = (table: string, order: string) =>
    connection.all(`SELECT * FROM ${table} WHERE recording_id = ? ORDER BY ${order}`, [row.id]);
  return {
    hash: String(row.hash),
    battery: String(row.battery_id),
    aircraft: text(row.aircraft),
    bus: text(row.bus),
    atS: Number(row.at_s),
    source: String(row.source),
    sampleCount: number(row.sample_count),
    durationS: number(row.duration_s),
    sampleRateHz: number(row.sample_rate_hz),
    sigmaV: number(row.sigma_v),
    temperatureC: number(row.temperature_c),
    stateOfCharge: number(row.state_of_charge),
    requiredEnduranceMin: number(row.required_endurance_min),
    report: text(row.report),
    software: text(row.software),
    remark: text(row.remark),
    dips: rows("dip", "number").map(dipOf),
    estimates: rows("estimate", "quantity, load, after_s").map(estimateOf),
    answers: rows("answer", "load").map(answerOf),
    notes: rows("note", "number").map(noteOf),
  };
}

function dipOf(row: SqlRow): DipEntry {
  return {
    onsetS: Number(row.onset_s),
    releaseS: Number(row.release_s),
    depthV: Number(row.depth_v),
    uV: Number(row.u_v),
    load: text(row.load),
  };
}

function estimateOf(row: SqlRow): EstimateEntry {
  return {
    quantity: row.quantity as Estimated,
    load: row.load === "" ? null : text(row.load),
    afterS: Number(row.after_s) < 0 ? null : Number(row.after_s),
    value: Number(row.value),
    u: Number(row.u),
    low: number(row.low),
    high: number(row.high),
    coverage: number(row.coverage),
    route: text(row.route),
  };
}

function answerOf(row: SqlRow): AnswerEntry {
  return {
    load: String(row.load),
    name: String(row.name),
    verdict: String(row.verdict),
    pValue: number(row.p_value),
    switchingCount: Number(row.switching_count),
  };
}

function noteOf(row: SqlRow): NoteEntry {
  return { kind: row.kind as NoteEntry["kind"], code: String(row.code), text: String(row.text) };
}

function text(value: SqlValue | undefined): string | null {
  return value === null || value === undefined ? null : String(value);
}

function number(value: SqlValue | undefined): number | null {
  return value === null || value === undefined ? null : Number(value);
}
