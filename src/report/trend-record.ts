import { type Markup, markup, scriptData } from "./markup.js";
import type { Attachment } from "./pdf.js";
import { readAttachments } from "./pdf-reading.js";
import { sha256Hex } from "./seal.js";

const TREND_RECORD_SCHEMA_NAME = "busdip-trend-record/1";

/** Histories beyond this are not carried inside a trend record; then its numbers cannot be computed again. */
export const LARGEST_CARRIED_HISTORY_BYTES = 20_000_000;

/** Everything from which a trend can be computed again. */
export interface TrendInputs {
  /** The battery asked for; null for the whole fleet. */
  readonly battery: string | null;
  /** What the person set, in the words of the trend's options. */
  readonly wishes: Readonly<Record<string, unknown>>;
  /** Addresses of the flights' own reports by the hash of the recording, as the page shows them. */
  readonly links: Readonly<Record<string, string>>;
  /** SHA-256 over the program files that computed the trend. */
  readonly judgementSha256: string;
  /** The history as it is exported, its dips, answers and notes left out. */
  readonly historyText: string;
}

/** The inputs as a script element of a trend record. */
export function embeddedTrend(inputs: TrendInputs): Markup {
  const { historyText, ...rest } = inputs;
  const block = { schema: TREND_RECORD_SCHEMA_NAME, ...rest, sha256: sha256Hex(historyText), history: historyText };
  return markup`<script type="application/json" id="busdip-history">${scriptData(block)}</script>`;
}

/** The same as files attached to a PDF: the trend with its inputs named, and the history. */
export function trendAttachments(trend: object, inputs: TrendInputs | null): readonly Attachment[] {
  const about = { mediaType: "application/json" };
  if (inputs === null) {
    const text = `${JSON.stringify(trend, null, 2)}\n`;
    return [{ ...about, name: "trend.json", about: "trend, busdip-trend/1", relationship: "Data", text }];
  }
  const { historyText, ...rest } = inputs;
  const stated = { schema: TREND_RECORD_SCHEMA_NAME, ...rest, sha256: sha256Hex(historyText) };
  const text = `${JSON.stringify({ ...trend, inputs: stated }, null, 2)}\n`;
  return [
    { ...about, name: "history.json", about: "history as used", relationship: "Source", text: historyText },
    { ...about, name: "trend.json", about: "trend, busdip-trend/1, and its inputs", relationship: "Data", text },
  ];
}

/** What a trend record carries: the trend it claims, and what that was computed from or why it cannot be read. */
export interface TrendReading {
  readonly claimed: object | null;
  readonly inputs: TrendInputs | null;
  /** Whether the history is the one whose hash stands beside it. */
  readonly holds: boolean;
}

/** Takes the carried parts out of a trend record; null where the page is none. */
export function readEmbeddedTrend(html: string): TrendReading | null {
  const trend = /<script type="application\/json" id="busdip-trend">([^<]*)<\/script>/.exec(html);
  if (trend === null) return null;
  const block = /<script type="application\/json" id="busdip-history">([^<]*)<\/script>/.exec(html);
  const claimed = parsed(trend[1]!);
  const carried = block === null ? null : (parsed(block[1]!) as Stated | null);
  if (carried === null || typeof carried.history !== "string" || typeof carried.wishes !== "object") {
    return { claimed, inputs: null, holds: block === null };
  }
  return { claimed, inputs: inputsOf(carried, carried.history), holds: sha256Hex(carried.history) === carried.sha256 };
}

/** Takes the carried parts out of a trend record on paper; null where the file is none. */
export function readEmbeddedTrendPdf(bytes: Uint8Array): TrendReading | null {
  const { files, damaged } = readAttachments(bytes);
  if (!files.has("trend.json") && !damaged.has("trend.json")) return null;
  const claimed = parsed(files.get("trend.json") ?? "");
  const history = files.get("history.json");
  const stated = (claimed as { readonly inputs?: Stated } | null)?.inputs;
  if (history === undefined || typeof stated?.wishes !== "object") {
    return { claimed, inputs: null, holds: claimed !== null && stated === undefined && !damaged.has("history.json") };
  }
  return { claimed, inputs: inputsOf(stated, history), holds: sha256Hex(history) === stated.sha256 };
}

type Stated = Readonly<Record<string, unknown>>;

function inputsOf(stated: Stated, historyText: string): TrendInputs {
  return {
    battery: typeof stated.battery === "string" ? stated.battery : null,
    wishes: (stated.wishes ?? {}) as TrendInputs["wishes"],
    links: (stated.links ?? {}) as TrendInputs["links"],
    judgementSha256: String(stated.judgementSha256),
    historyText,
  };
}

function parsed(text: string): object | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === "object" ? value : null;
  } catch {
    return null;
  }
}
