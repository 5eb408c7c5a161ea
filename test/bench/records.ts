import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { readPlotlySource } from "../../src/cli/report-files.js";
import { readReportFonts } from "../../src/cli/report-fonts.js";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { analyze } from "../../src/core/index.js";
import { writeMarks } from "../../src/importers/profile/marks.js";
import { readProfile } from "../../src/importers/profile/profile.js";
import { recordData } from "../../src/report/embedded-data.js";
import { renderHtmlRecord } from "../../src/report/html.js";
import { renderPdfRecord } from "../../src/report/pdf.js";
import { recordInputs } from "../../src/report/record-inputs.js";
import { dipRecording } from "../simulation/dip-recording.js";
import { tellRatio } from "./ratio-line.js";

/**
 * Size and processor time of the record of five minutes at 10 Hz with six loads, each switched three times, on both
 * papers; then what the tools of this machine say of the file (qpdf, poppler), where they are installed.
 */
const LOADS = ["a", "b", "c", "d", "e", "f"];
const { recording, marks } = dipRecording({
  seed: 7,
  rateHz: 10,
  durationS: 300,
  levelV: 24.4,
  relaxationV: 0.2,
  relaxationTimeS: 120,
  sigmaV: 0.015,
  ar1: 0.3,
  quantumV: 0.01,
  outlierShare: 0.001,
  outlierV: 0.3,
  gaps: [],
  lagS: 0.25,
  loads: LOADS.map((id, i) => ({
    id,
    depthV: 0.04 + 0.02 * i,
    switchings: [0, 1, 2].map((k) => [10 + 46 * i + 14 * k, 16 + 46 * i + 14 * k] as [number, number]),
  })),
});
const profileText = `battery: { resistance_mOhm: { value: 12, u: 0.5 } }
path_resistance_mOhm: { value: 0, u: 0 }
loads:
${LOADS.map((id) => `  - { id: ${id}, name: Load ${id}, kind: resistive, accept_A: [3, 14] }`).join("\n")}
`;
const profile = readProfile(profileText, "bus.yaml");
const options = { falseAlarmRate: 0.01, power: 0.95, markUncertaintyS: 0.2, seed: 1 };
const analysis = analyze(recording, { marks, profile, ...options });
const context = {
  source: "log.csv",
  sha256: "7".repeat(64),
  profile,
  profileText,
  understood: [],
  softwareVersion: "0.1.0",
  madeAt: "2026-03-02T00:00:00.000Z",
};
const given = { profileText, marksText: writeMarks(marks), options, judgementSha256: "5".repeat(64) };
const record = recordData(analysis, context, recordInputs(recording, given));
const fonts = await readReportFonts();
const plotlySource = await readPlotlySource();
const means = {
  softwareVersion: "0.1.0",
  judgementSha256: "5".repeat(64),
  plotlySource: async () => plotlySource,
  fonts: async () => fonts,
};

async function timed<T>(work: () => T | Promise<T>): Promise<{ readonly value: T; readonly userS: number }> {
  const before = process.cpuUsage();
  const value = await work();
  return { value, userS: process.cpuUsage(before).user / 1e6 };
}

console.log(`${recording.timesS.length} readings, ${analysis.loads.length} loads, ${analysis.dips.length} dips`);
console.log("| record | bytes | made in, s of processor time (first, then the middle of 5) | verify, s | concluded |");
console.log("|---|---|---|---|---|");
const folder = mkdtempSync(join(tmpdir(), "busdip-records-"));
let good = true;
for (const [name, make] of [
  ["A4 PDF", () => renderPdfRecord(analysis, { ...context, record, fonts })],
  ["Letter PDF", () => renderPdfRecord(analysis, { ...context, record, fonts, paper: "Letter" as const })],
  ["HTML", async () => renderHtmlRecord(analysis, { ...context, plotlySource, record })],
] as const) {
  const first = await timed(make);
  const others: number[] = [];
  for (let i = 0; i < 5; i++) others.push((await timed(make)).userS);
  const middle = others.sort((a, b) => a - b)[2]!;
  const kind = name === "HTML" ? "html" : "pdf";
  const path = join(folder, `report.${kind}`);
  writeFileSync(path, first.value);
  const checked = await timed(() => checkRecord(path, first.value, means));
  const conclusion = conclusionOf(checked.value.lines);
  const figures = `${first.userS.toFixed(2)}, ${middle.toFixed(2)} | ${checked.userS.toFixed(2)}`;
  console.log(`| ${name} | ${first.value.length} | ${figures} | ${conclusion} |`);
  good &&= conclusion === "intact";
  tellRatio({
    what: `${name} of five minutes, first made`,
    measured: `${(first.value.length / 1000).toFixed(0)} kB in ${first.userS.toFixed(2)} s, then ${middle.toFixed(2)} s`,
    reference: `verify of the same, ${checked.userS.toFixed(2)} s`,
    ratio: first.userS / checked.userS,
    target: kind === "pdf" ? "400 kB, 1.5 s" : "",
  });
  if (kind === "pdf") {
    good &&= first.value.length < 400_000 && first.userS < 1.5;
    toolLines(path);
  }
}
rmSync(folder, { recursive: true, force: true });
process.exitCode = good ? 0 : 1;

/** What other programs say of a PDF; each complaint is printed. */
function toolLines(path: string): void {
  for (const words of [
    ["qpdf", "--check", path],
    ["pdfinfo", path],
    ["pdfdetach", "-list", path],
    ["pdftotext", path, "-"],
    ["pdftoppm", "-r", "40", "-png", path, join(folder, "page")],
  ]) {
    const [program, ...rest] = words as [string, ...string[]];
    const run = spawnSync(program, rest, { encoding: "utf8" });
    const told =
      run.error !== undefined
        ? "not installed"
        : run.status === 0 && run.stderr === ""
          ? "no complaint"
          : `status ${run.status}: ${run.stderr.trim() || run.stdout.trim()}`;
    if (run.error === undefined) good &&= told === "no complaint";
    const listed =
      program === "pdfdetach" ? ` (${[...run.stdout.matchAll(/: (\S+)/g)].map((found) => found[1]).join(", ")})` : "";
    console.error(`${program}: ${told}${run.error === undefined ? listed : ""}`);
  }
}
