import type {
  BatteryLine,
  EstimateEntry,
  InstallationEntry,
  RecordingEntry,
  RecordingLine,
  RecordingTwins,
} from "../history/index.js";
import { formatQuantity, plainLabel } from "../report/index.js";

/** So many signs of a hash are shown. */
const HASH_SIGNS = 12;

/** Batteries with what is known of them, one line each. */
export function batteryTable(
  batteries: readonly BatteryLine[],
  installations: readonly InstallationEntry[],
  place: string,
): string {
  if (batteries.length === 0) return `${place} holds no battery yet.`;
  const rows = batteries.map((battery) => {
    const own = installations.filter((one) => one.battery === battery.id);
    const last = own[own.length - 1];
    const where =
      battery.retiredOn !== null
        ? `retired ${battery.retiredOn}`
        : last === undefined
          ? ""
          : last.removedOn === null
            ? `in ${plainLabel(last.aircraft)} since ${last.installedOn}`
            : `removed ${last.removedOn}`;
    const span = battery.firstAtS === null ? "" : `${day(battery.firstAtS)} to ${day(battery.lastAtS!)}`;
    return [plainLabel(battery.id), String(battery.recordingCount), span, battery.chemistry ?? "", where];
  });
  return table(["battery", "recordings", "from to", "chemistry", "where"], rows);
}

/** That flights may be kept twice, and how to mend it; null where none are. */
export function twinsText(twins: readonly RecordingTwins[]): string | null {
  const [first] = twins;
  if (first === undefined) return null;
  const [one, other] = first.hashes.map((hash) => hash.slice(0, HASH_SIGNS));
  const which = `${one} and ${other} of battery ${plainLabel(first.battery)}, ${day(first.atS)}`;
  const head = twins.length === 1 ? `Two recordings tell` : `${twins.length} pairs of recordings tell`;
  return `${head} the very same resistance on the same day and may be one flight kept twice${twins.length === 1 ? ": " : ", first "}${which}. If so, take one out with busdip history remove ${other}; a flight that counts twice makes a trend look surer than it is.`;
}

/** Recordings of a battery, oldest first. */
export function recordingTable(recordings: readonly RecordingLine[]): string {
  if (recordings.length === 0) return "No recording of this battery yet.";
  return table(
    ["recording", "date", "aircraft", "source"],
    recordings.map((line) => [
      line.hash.slice(0, HASH_SIGNS),
      day(line.atS),
      plainLabel(line.aircraft ?? ""),
      plainLabel(line.source, 60),
    ]),
  );
}

/** All that is kept of a recording. */
export function recordingDetails(entry: RecordingEntry): string {
  const facts: (readonly [string, string])[] = [
    ["recording", entry.hash],
    ["date", new Date(1000 * entry.atS).toISOString()],
    ["battery", plainLabel(entry.battery)],
    ["aircraft", plainLabel([entry.aircraft, entry.bus].filter(Boolean).join(", "), 100)],
    ["source", plainLabel(entry.source, 200)],
    ["report", plainLabel(entry.report ?? "none", 400)],
    ["remark", plainLabel(entry.remark ?? "", 400)],
  ];
  const lines = facts.filter(([, text]) => text !== "").map(([term, text]) => `${term.padEnd(12)}${text}`);
  const parts = [
    ...entry.estimates.map((estimate) => `${estimateName(estimate)}: ${estimateText(estimate)}`),
    ...entry.answers.map((answer) => `${plainLabel(answer.name)}: ${answer.verdict}`),
    ...entry.notes.filter((note) => note.kind === "warning").map((note) => note.text),
  ];
  return [...lines, ...parts.map((part) => `  ${part}`)].join("\n");
}

const UNITS = {
  "source-resistance": "Ohm",
  "internal-resistance": "Ohm",
  "normalized-resistance": "Ohm",
  "open-circuit": "V",
  endurance: "min",
  "load-current": "A",
} as const;

function estimateText(estimate: EstimateEntry): string {
  const { value, u, low, high } = estimate;
  return formatQuantity(
    {
      value,
      u,
      unit: UNITS[estimate.quantity],
      low: low ?? value - 1.96 * u,
      high: high ?? value + 1.96 * u,
      coverage: estimate.coverage ?? 0.95,
      route: "readings",
    },
    { form: "compact" },
  );
}

function estimateName(estimate: EstimateEntry): string {
  const name = estimate.quantity.replaceAll("-", " ");
  const load = estimate.load === null ? "" : ` of ${plainLabel(estimate.load)}`;
  return `${name}${load}${estimate.afterS === null ? "" : `, ${estimate.afterS} s after the step`}`;
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = head.map((cell, column) => Math.max(cell.length, ...rows.map((row) => row[column].length)));
  return [head, ...rows]
    .map((row) =>
      row
        .map((cell, column) => cell.padEnd(widths[column]))
        .join("  ")
        .trimEnd(),
    )
    .join("\n");
}

function day(atS: number): string {
  return new Date(1000 * atS).toISOString().slice(0, 10);
}
