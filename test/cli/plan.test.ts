import { mkdtempSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { readMarks } from "../../src/importers/profile/marks.js";
import { runBusdip, samplesFolder } from "./run-busdip.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-plan-"));
const profilePath = join(folder, "bus.yaml");
writeFileSync(
  profilePath,
  `battery: { resistance_mOhm: { value: 12, u: 0.5 } }
path_resistance_mOhm: { value: 0, u: 0 }
loads:
  - { id: heat, kind: heater, accept_A: [4, 8], time_limit_s: 20 }
  - { id: lamp, kind: resistive, shows: seen }
`,
);

describe("busdip plan", () => {
  it("busdip plan --out writes the run sheet, the sheet to tick and marks within the limit", () => {
    const out = join(folder, "check");
    const run = runBusdip(["plan", profilePath, "--reading-noise", "0.02", "--out", out]);
    expect(run.stderr).toBe("");
    expect(run.status).toBe(0);
    expect(readdirSync(out).sort()).toEqual(["check.yaml", "marks.csv", "run-sheet.html", "run-sheet.pdf"]);
    const marks = readMarks(readFileSync(join(out, "marks.csv"), "utf8"), "marks.csv", null);
    const onS = marks.reduce((sum, mark) => sum + (mark.action === "off" ? mark.timeS : -mark.timeS), 0);
    expect(onS).toBeGreaterThan(0);
    expect(onS).toBeLessThanOrEqual(20);
  });

  it("busdip plan --json prints the plan and nothing else", () => {
    const run = runBusdip(["plan", profilePath, "--reading-noise", "0.02", "--json"]);
    expect(JSON.parse(run.stdout).plan.items).toHaveLength(2);
  });

  it.each([
    [
      ["--resistance", "twelve"],
      "busdip: --resistance is 'twelve'; give milliohms and their standard uncertainty, as in 12.5,1.6\n",
    ],
    [
      ["--reading-noise", "0.02", "--recording", "quiet.csv"],
      "busdip: --recording and --reading-noise exclude each other; let the recording tell the noise, or state it\n",
    ],
    [
      ["--store", "none.db"],
      "busdip: --store needs to know the battery, and the profile names none; write battery: { id: ... } into the profile\n",
    ],
  ])("busdip plan %s is refused in one sentence", (options, sentence) => {
    const run = runBusdip(["plan", profilePath, ...options]);
    expect(run.stderr).toBe(sentence);
    expect(run.status).toBe(2);
  });
});

describe("busdip analyze --check", () => {
  const sample = [
    "analyze",
    join(samplesFolder, "ice-2-noisy.csv"),
    "--marks",
    join(samplesFolder, "ice-2-noisy.marks.csv"),
  ];
  const sheetPath = join(folder, "check.yaml");
  writeFileSync(sheetPath, "items:\n  - { item: emergency-lights, found: seen, when: '10:05' }\n");

  it("busdip analyze --check accounts for every item of the profile", () => {
    const run = runBusdip([...sample, "--profile", join(samplesFolder, "ice-2.profile.yaml"), "--check", sheetPath]);
    expect(run.status).toBe(0);
    expect(run.stdout).toContain("Whole bus: ");
    expect(run.stdout).toMatch(/Cabin emergency lights +answered +seen \[10:05\]/);
    expect(run.stdout).toMatch(/Probe heat B +no evidence +no evidence: not switched in the recording/);
  });

  it("busdip analyze --check without a profile is refused", () => {
    const run = runBusdip([...sample, "--check", sheetPath]);
    expect(run.stderr).toBe(
      "busdip: --check stands without --profile; give the profile whose items the run sheet ticks\n",
    );
    expect(run.status).toBe(2);
  });
});
