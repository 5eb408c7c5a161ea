import { z } from "zod";
import { CHEMISTRIES } from "../core/index.js";
import { ESTIMATED } from "./recording-entry.js";
import type { HistoryContent } from "./store.js";
import { StoreError } from "./store-error.js";

export { readHistoryCsv, writeHistoryCsv } from "./exchange-csv.js";

const HISTORY_SCHEMA_NAME = "busdip-history/1";

const day = z.string().regex(/^\d{4}-\d{2}-\d{2}$/, "expected a date such as 2026-03-02");
/** No quantity of a recording is larger, in SI units. */
const quantity = z.number().min(-1e15).max(1e15);
const optionalText = z.string().nullable().default(null);
const optionalNumber = quantity.nullable().default(null);

const estimate = z.object({
  quantity: z.enum(ESTIMATED),
  load: optionalText,
  afterS: optionalNumber,
  value: quantity,
  u: quantity.positive(),
  low: optionalNumber,
  high: optionalNumber,
  coverage: optionalNumber,
  route: optionalText,
});

const recording = z.object({
  hash: z.string().regex(/^[0-9a-f]{8,128}$/, "expected a hexadecimal hash"),
  battery: z.string().min(1),
  aircraft: optionalText,
  bus: optionalText,
  at: z.iso.datetime({ offset: true }),
  source: z.string().default(""),
  sampleCount: optionalNumber,
  durationS: optionalNumber,
  sampleRateHz: optionalNumber,
  sigmaV: optionalNumber,
  temperatureC: optionalNumber,
  stateOfCharge: optionalNumber,
  requiredEnduranceMin: optionalNumber,
  report: optionalText,
  software: optionalText,
  remark: optionalText,
  dips: z
    .array(
      z.object({
        onsetS: quantity,
        releaseS: quantity,
        depthV: quantity,
        uV: quantity,
        load: optionalText,
      }),
    )
    .default([]),
  estimates: z.array(estimate).default([]),
  answers: z
    .array(
      z.object({
        load: z.string(),
        name: z.string(),
        verdict: z.string(),
        pValue: optionalNumber,
        switchingCount: quantity,
      }),
    )
    .default([]),
  notes: z
    .array(z.object({ kind: z.enum(["assumption", "warning", "caution"]), code: z.string(), text: z.string() }))
    .default([]),
});

const history = z.object({
  schema: z.literal(HISTORY_SCHEMA_NAME),
  about: z.string().optional(),
  batteries: z
    .array(
      z.object({
        id: z.string().min(1),
        chemistry: z
          .enum(CHEMISTRIES, `expected ${CHEMISTRIES.join(", ")} or null`)
          .nullable()
          .default(null),
        cells: optionalNumber,
        capacityAh: optionalNumber,
        retiredOn: day.nullable().default(null),
        retiredBecause: optionalText,
      }),
    )
    .default([]),
  installations: z
    .array(
      z.object({
        battery: z.string().min(1),
        aircraft: z.string().min(1),
        bus: z.string().default(""),
        installedOn: day,
        removedOn: day.nullable().default(null),
        newLife: z.boolean().default(false),
      }),
    )
    .default([]),
  recordings: z.array(recording),
});

/** The schema's complaint in plain words. */
function complaint(message: string): string {
  return message
    .replace(/^Invalid input: /, "")
    .replace("received undefined", "found nothing")
    .replace("received", "found")
    .replace(/^I/, "i");
}

/** The history as one JSON text, contract `busdip-history/1`; moments in ISO 8601, UTC. */
export function writeHistoryJson(content: HistoryContent, about?: string): string {
  const { batteries, installations } = content;
  const recordings = content.recordings.map(({ atS, ...rest }) => ({
    ...rest,
    at: new Date(1000 * atS).toISOString(),
  }));
  const head = { schema: HISTORY_SCHEMA_NAME, ...(about === undefined ? {} : { about }) };
  return `${JSON.stringify({ ...head, batteries, installations, recordings }, null, 1)}\n`;
}

/**
 * Reads the text of an exported history.
 *
 * @throws StoreError that names the place in the file
 */
export function readHistoryJson(text: string, file: string): HistoryContent {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    throw new StoreError("bad-entry", file, "this is not JSON", "give a file that busdip history export wrote");
  }
  const parsed = history.safeParse(data);
  if (!parsed.success) {
    const issue = parsed.error.issues[0];
    const where = issue.path.map(String).join(".") || "the top";
    throw new StoreError(
      "bad-entry",
      file,
      `at ${where}: ${complaint(issue.message)}`,
      "mend the entry; nothing was added",
    );
  }
  const { batteries, installations, recordings } = parsed.data;
  return {
    batteries,
    installations,
    recordings: recordings.map(({ at, ...rest }) => ({ ...rest, atS: Date.parse(at) / 1000 })),
  };
}
