import { readFileSync, rmSync } from "node:fs";
import { judgeTrends } from "../../src/cli/trend.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { openHistory, readHistoryCsv, readHistoryJson, writeHistoryCsv } from "../../src/history/index.js";
import { renderFleetTrend, trendJson } from "../../src/report/index.js";
import { html, means, pdf, record } from "../cli/small-record.js";
import type { FuzzTarget } from "./fuzz-target.js";
import { checkFinite, Find, kindOfSentence, refuseNaN } from "./oracle.js";

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
const flights = readFileSync(new URL("../../samples/history/ice-2-history.json", import.meta.url), "utf8");

/** The first flights of the sample history. */
function fewFlights(): string {
  const history = JSON.parse(flights) as { recordings: unknown[] };
  return JSON.stringify({ ...history, recordings: history.recordings.slice(0, 4) }, null, 1);
}

async function check(name: string, input: Uint8Array): Promise<string> {
  const { lines, claims } = await checkRecord(name, input, means);
  if (lines.length === 0) throw new Find("the check says nothing");
  checkFinite(claims.map(({ computed }) => computed));
  const changed = lines.filter(({ state }) => state === "changed");
  return kindOfSentence(changed.map(({ what }) => what).join(" ")) || "nothing changed";
}

const RECORD_WORDS = [
  ...[
    '"value":',
    '"u":',
    "null",
    "1e999",
    "-0",
    '"__proto__":',
    "[]",
    "{}",
    '"seal":',
    '"inputs":',
    '"loads":',
    '"dips":',
  ],
  ...[
    "</script>",
    "<script",
    "<!--",
    "\u0000",
    "\u001b[2J",
    "\ud800",
    "/Type /Filespec",
    "endstream",
    "endobj",
    "/EF",
    ">>",
  ],
];

export const resultTarget: FuzzTarget = {
  name: "result",
  words: RECORD_WORDS,
  seeds: () => [bytes(record().resultText)],
  largestBytes: 200_000,
  run: (input) => check("result.json", input),
};

export const reportTarget: FuzzTarget = {
  name: "report",
  words: RECORD_WORDS,
  seeds: async () => [html(record()), await pdf(record())],
  largestBytes: 400_000,
  longestS: 15,
  run: (input) => check("report", input),
};

export const historyTarget: FuzzTarget = {
  name: "history",
  words: [
    "date",
    "battery",
    "resistance_mOhm",
    "u_",
    "hash",
    "recordings",
    "null",
    "1e999",
    "\u0000",
    "'=",
    "2026-13-01",
    "__proto__",
  ],
  seeds: () => {
    const few = fewFlights();
    return [bytes(few), bytes(writeHistoryCsv(readHistoryJson(few, "history.json")))];
  },
  onDisk: true,
  async run(input, path) {
    const text = new TextDecoder().decode(input);
    const content = /^\s*\{/.test(text) ? readHistoryJson(text, "h") : readHistoryCsv(text, "h");
    checkFinite(content);
    const store = `${path}.db`;
    const history = openHistory({ kind: "file", path: store }, { make: true });
    try {
      const { added } = history.addAll(content);
      if (added > content.recordings.length) throw new Find("more was added than there is");
    } finally {
      history.close();
    }
    try {
      const judged = await judgeTrends(undefined, { store });
      checkFinite(trendJson(judged.stories, judged.context));
      refuseNaN(renderFleetTrend(judged.stories, judged.context, { columns: 80, colour: false, ascii: true }));
      return `${Math.min(9, content.recordings.length)} recordings`;
    } finally {
      for (const end of ["", "-wal", "-shm"]) rmSync(`${store}${end}`, { force: true });
    }
  },
};
