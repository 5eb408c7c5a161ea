import { readdirSync, readFileSync, statSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { samplePlans } from "../../samples/sample-plans.js";
import { makeSample, type SampleTruth } from "../../samples/simulator/sample-recording.js";
import { readMarks } from "../../src/importers/profile/marks.js";
import { readProfile } from "../../src/importers/profile/profile.js";

const folder = new URL("../../samples/", import.meta.url);
const text = (name: string) => readFileSync(new URL(name, folder), "utf8");
const truths = JSON.parse(text("truth.json")) as SampleTruth[];

describe("samples/", () => {
  it.each(samplePlans.map((plan) => [plan.name, plan] as const))("%s is what its plan and seed make", (_, plan) => {
    const { files, truth } = makeSample(plan);
    for (const [name, made] of files) expect(text(name), name).toBe(made);
    expect(truths.find((one) => one.recording === truth.recording)).toEqual(truth);
  });

  it("every recording says that it is simulated, and none is larger than 200 kB", () => {
    const recordings = readdirSync(folder).filter((name) => name.endsWith(".csv") && !name.endsWith(".marks.csv"));
    expect(recordings.length).toBe(samplePlans.length);
    for (const name of recordings) {
      expect(text(name).split("\n")[0], name).toMatch(/^# simulated: yes, seed \d+/);
      expect(statSync(new URL(name, folder)).size, name).toBeLessThan(200_000);
    }
  });

  it("README.md has a paragraph about every file", () => {
    const readme = text("README.md");
    for (const name of readdirSync(folder)) expect(readme).toContain(`\`${name}`);
  });

  it("the marks name only loads of the profile", () => {
    const profile = readProfile(text("ice-2.profile.yaml"), "ice-2.profile.yaml");
    for (const plan of samplePlans.filter((one) => one.withMarks)) {
      const name = `${plan.name}.marks.csv`;
      expect(readMarks(text(name), name, profile).length).toBe(plan.loads.length * plan.repeatCount * 2);
    }
  });

  it("the landing light's current and dip follow from its rating by Ohm's law", () => {
    // 250 W at 28 V is 3.136 Ohm: 7.8 A at a bus of 24.5 V, and through some 13 mOhm a dip near 0.1 V.
    const light = truths[0]!.loads.find((load) => load.load === "landing-light")!;
    expect(light.settledCurrent_A).toBeCloseTo(24.5 / 3.136, 1);
    expect(light.meanDepth_V / light.settledCurrent_A).toBeGreaterThan(0.01244);
    expect(light.meanDepth_V / light.settledCurrent_A).toBeLessThan(0.01363);
  });

  it("a system of nominal 24 V on battery alone shows about 24 V (common practice, no source)", () => {
    const readings = text("ice-2-ramp.csv")
      .split("\n")
      .filter((line) => /^\d/.test(line))
      .map((line) => Number(line.split(",")[1]));
    const mean = readings.reduce((sum, value) => sum + value, 0) / readings.length;
    expect(Math.abs(mean - 24)).toBeLessThan(1);
  });
});
