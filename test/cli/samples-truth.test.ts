import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { LoadTruth, SampleTruth } from "../../samples/simulator/sample-recording.js";
import type { ResultJson } from "../../src/report/index.js";
import { runBusdip, samplesFolder } from "./run-busdip.js";

const truths = JSON.parse(readFileSync(join(samplesFolder, "truth.json"), "utf8")) as SampleTruth[];

function judged(name: string, ...more: string[]): { truth: SampleTruth; result: ResultJson } {
  const truth = truths.find((one) => one.recording === `${name}.csv`)!;
  const paths = more.map((word) => (word.startsWith("--") ? word : join(samplesFolder, word)));
  const { stdout } = runBusdip(["analyze", join(samplesFolder, `${name}.csv`), ...paths, "--json"]);
  return { truth, result: JSON.parse(stdout) as ResultJson };
}

describe("busdip analyze of the samples", () => {
  it("ice-2-ramp: every verdict agrees with the simulator, or is undecided for the altimeter's 6 mV", () => {
    const words = ["--profile", "ice-2.profile.yaml", "--marks", "ice-2-ramp.marks.csv"];
    const { truth, result } = judged("ice-2-ramp", ...words);
    const verdicts = Object.fromEntries(result.loads.map((load) => [load.id, load.verdict]));
    expect(verdicts).toEqual({
      "landing-light": "responded",
      "probe-heat-a": "responded",
      "probe-heat-b": "no response",
      "stall-vane-heat": "responded",
      "survey-altimeter": "undecided",
      "emergency-lights": "responded",
    });
    for (const load of result.loads) {
      const drawn = truth.loads.find((one: LoadTruth) => one.load === load.id)!;
      // A heater settles all the time: its depth lies between that of the steady current and the mean.
      const steadyDepthV = (drawn.steadyCurrent_A * truth.sourceResistance_mOhm.at_1_s) / 1000;
      const lowest = Math.min(drawn.meanDepth_V, drawn.endDepth_V, steadyDepthV);
      const highest = Math.max(drawn.meanDepth_V, drawn.endDepth_V);
      expect(load.depth_V!, load.id).toBeGreaterThan(lowest - 4 * load.u_V!);
      expect(load.depth_V!, load.id).toBeLessThan(highest + 4 * load.u_V!);
      if (load.current_A !== null) {
        const { value, u } = load.current_A;
        expect(value, load.id).toBeGreaterThan(drawn.steadyCurrent_A - 4 * u);
        expect(value, load.id).toBeLessThan(drawn.settledCurrent_A + 4 * u);
      }
    }
    const { value, u } = result.battery.resistance_mOhm!;
    expect(Math.abs(value - truth.sourceResistance_mOhm.at_1_s)).toBeLessThan(4 * u);
  });

  it("ice-2-noisy: nothing is claimed, and it is said how many more switchings would help or that none would", () => {
    const words = ["--profile", "ice-2.profile.yaml", "--marks", "ice-2-noisy.marks.csv"];
    const { result } = judged("ice-2-noisy", ...words);
    expect(new Set(result.loads.map((load) => load.verdict))).toEqual(new Set(["undecided"]));
    const light = result.loads.find((load) => load.id === "landing-light")!;
    expect(light.moreSwitchings).toBeGreaterThan(3);
  });

  it("ice-2-bench: source and internal resistance and every current agree with the simulator", () => {
    const { truth, result } = judged("ice-2-bench", "--profile", "ice-2-battery.profile.yaml");
    const source = result.battery.resistance_mOhm!;
    const internal = result.battery.internal_mOhm!;
    expect(source.atSeconds).toBe(1);
    expect(Math.abs(source.value - truth.sourceResistance_mOhm.at_1_s)).toBeLessThan(4 * source.u);
    expect(Math.abs(internal.value - truth.internalResistance_mOhm.at_1_s)).toBeLessThan(4 * internal.u);
    expect(source.u).toBeLessThan(0.05 * source.value);
    expect(result.dips.length).toBe(9);
    // The clamp sits at the battery: it sees the load, and the radios' constant power answering to the dip. A heater is told
    // by what it settles to, which in five seconds it does not reach.
    const drawnA = truth.loads
      .map((load) => (load.steadyCurrent_A * load.batteryStep_A) / load.settledCurrent_A)
      .sort((a, b) => a - b);
    const foundA = result.loads.map((load) => load.current_A!).sort((a, b) => a.value - b.value);
    foundA.forEach((current, index) => {
      expect(Math.abs(current.value - drawnA[index]!), `${drawnA[index]} A`).toBeLessThan(4 * current.u);
    });
  });

  it("ice-2-unmarked: the four switchings of probe A are found, and its current through the known resistance", () => {
    const { truth, result } = judged("ice-2-unmarked", "--profile", "ice-2-probe-a.profile.yaml");
    const probe = result.loads[0]!;
    expect([probe.id, probe.verdict, probe.switchings]).toEqual(["probe-heat-a", "responded", 4]);
    const switchings = truth.loads[0]!.switchings;
    result.dips.forEach((dip, index) => {
      expect(Math.abs(dip.onset_s - switchings[index]!.on_s)).toBeLessThan(1);
    });
    const { value, u, route } = probe.current_A!;
    expect(route).toBe("known-resistance");
    expect(value).toBeGreaterThan(truth.loads[0]!.steadyCurrent_A - 4 * u);
    expect(value).toBeLessThan(truth.loads[0]!.settledCurrent_A + 4 * u);
  });
});
