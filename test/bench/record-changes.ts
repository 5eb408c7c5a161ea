import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { readPlotlySource } from "../../src/cli/report-files.js";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { analyze } from "../../src/core/index.js";
import { renderHtmlRecord } from "../../src/report/html.js";
import { context, means, pdf, record, analysis as shown } from "../cli/small-record.js";
import { tellRatio } from "./ratio-line.js";

/**
 * Changes one random byte of a page, a PDF and a result to another random value, many times, and runs the whole of
 * `busdip verify` on each (without the start of a process): what it concludes, and whether anything beside the seal names
 * the change. Ends with 1 where one passes as intact. A second word takes only the files whose name contains it; each file
 * has random numbers of its own, so that the parts give the same as the whole.
 */
const CHANGES = Number(process.argv[2] ?? 1000);
const ONLY = process.argv[3] ?? "";
const folder = mkdtempSync(join(tmpdir(), "busdip-changes-"));
const data = record();
const plotlySource = await readPlotlySource();
const readings = join(folder, "recording.csv");
writeFileSync(readings, data.inputs.recordingFile.text!);
const judged = new Map<string, ReturnType<typeof analyze>>();
/** The judgement, computed once for each set of inputs: the same inputs give the same numbers. */
const judge: typeof analyze = (recording, options) => {
  const key = JSON.stringify([[...recording.timesS], [...recording.voltagesV], recording.clockResolutionS, options]);
  const found = judged.get(key) ?? analyze(recording, options);
  judged.set(key, found);
  return found;
};
const whole = { ...means, plotlySource: async () => plotlySource, analyze: judge };
const page = renderHtmlRecord(shown, { ...context, plotlySource, record: data });
const libraryAt = Buffer.from(page).indexOf(plotlySource.slice(0, 200));
/** Nearly all of a page is its plotting library, so that the rest is tried by itself too. */
const BESIDE_LIBRARY = "report.html, library spared";
const files = [
  ["report.html", page, whole],
  [BESIDE_LIBRARY, page, whole],
  ["report.pdf", await pdf(data), whole],
  ["result.json", new TextEncoder().encode(data.resultText), { ...whole, recordingPath: readings }],
] as const;

let state = 0;
/** Linear congruential steps; high bits only, since the low ones repeat soon. */
const random = (below: number): number => {
  state = (state * 1103515245 + 12345) % 2147483648;
  return Math.floor((state / 2147483648) * below);
};

interface Tally {
  refused: number;
  changed: number;
  bySealAlone: number;
  open: number;
  intact: number;
  failed: number;
}
const tallies = new Map<string, Tally>();
const before = process.cpuUsage();
for (let i = 0; i < CHANGES; i++) {
  const [name, bytes, given] = files[Math.floor((i * files.length) / CHANGES)]!;
  if (!name.includes(ONLY)) continue;
  if (!tallies.has(name)) state = 20260302;
  const tally = tallies.get(name) ?? { refused: 0, changed: 0, bySealAlone: 0, open: 0, intact: 0, failed: 0 };
  tallies.set(name, tally);
  let at = random(bytes.length);
  while (name === BESIDE_LIBRARY && at >= libraryAt && at < libraryAt + plotlySource.length) at = random(bytes.length);
  const other = Uint8Array.from(bytes);
  other[at] = (bytes[at]! + 1 + random(255)) % 256;
  try {
    const { lines } = await checkRecord(name, other, given);
    const conclusion = conclusionOf(lines);
    tally[conclusion === "differs" ? "open" : conclusion] += 1;
    const sealAlone = lines.filter(({ state: found }) => found === "changed").every(({ what }) => what === "seal");
    if (conclusion === "changed" && sealAlone) {
      tally.bySealAlone += 1;
      console.error(`${name}: byte ${at} of ${bytes.length} (${bytes[at]} -> ${other[at]}) is named by the seal alone`);
    }
  } catch (error) {
    const refused = (error as Error).name === "InputError";
    tally[refused ? "refused" : "failed"] += 1;
    if (!refused) console.error(`${name}: byte ${at}: ${(error as Error).stack}`);
  }
}
rmSync(folder, { recursive: true, force: true });
const cpu = process.cpuUsage(before);
console.log(
  "| file | bytes | changes | changed | of these by the seal alone | refused | not decided | intact | failed |",
);
console.log("|---|---|---|---|---|---|---|---|---|");
for (const [name, bytes] of files) {
  const tally = tallies.get(name);
  if (tally === undefined) continue;
  const { refused, changed, bySealAlone, open, intact, failed } = tally;
  const count = refused + changed + open + intact + failed;
  tellRatio({
    what: `${name}: one byte changed`,
    measured: `found ${count - open - intact - failed} times`,
    reference: `tried ${count} times`,
    ratio: (count - open - intact - failed) / count,
    target: "1",
  });
  console.log(
    `| ${name} | ${bytes.length} | ${count} | ${changed} | ${bySealAlone} | ${refused} | ${open} | ${intact} | ${failed} |`,
  );
}
const checks = [...tallies.values()].reduce(
  (sum, one) => sum + one.refused + one.changed + one.open + one.intact + one.failed,
  0,
);
console.log(`${((cpu.user + cpu.system) / 1e6 / Math.max(1, checks)).toFixed(2)} s of processor time a change`);
process.exitCode = [...tallies.values()].some(({ intact, failed }) => intact + failed > 0) ? 1 : 0;
