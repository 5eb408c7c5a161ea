import { describe, expect, it } from "vitest";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const times = [20, 40, 60].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
const isOn = (t: number) => times.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
const marks = times.flatMap(({ onsetS, releaseS }): SwitchingMark[] => [
  { timeS: onsetS, load: "probe", action: "on" },
  { timeS: releaseS, load: "probe", action: "off" },
]);
const profile = {
  meter: { frictionV: 0 },
  battery: { resistanceOhm: { value: 0.02, u: 0.0001 } },
  pathResistanceOhm: { value: 0, u: 0.0001 },
  loads: [{ id: "probe", kind: "resistive", reference: false, acceptA: [2, 8] } as const],
};

/**
 * A needle that shows a dip, and how far it then lies aside, volts; noise of 8 mV, and of `asideNoiseV` in what lies aside
 * (seed 3; dips of 60 and shifts of 25 standard uncertainties).
 */
function judged(shownV: number, asideV: number | null, asideNoiseV = 0.02) {
  const random = randomGenerator(3);
  const voltagesV = timesS.map(
    (t) => 24.3 + 0.3 * Math.exp(-t / 60) - (isOn(t) ? shownV : 0) + 0.008 * random.normal(),
  );
  const asidesV = timesS.map((t) => (isOn(t) ? (asideV ?? 0) : 0) + asideNoiseV * random.normal());
  const recording = { timesS, voltagesV, readingUncertaintiesV: timesS.map(() => 0.01) };
  return analyze({ ...recording, ...(asideV === null ? {} : { asidesV }) }, { marks, profile }).loads[0]!;
}

describe("analyze() of a needle that lies aside while the load is on", () => {
  it("never says responded of what may be all of that, nor no response where it may hide a dip", () => {
    // A shift by 0.05 V to the one side passes for a dip, to the other one for none in place of a dip.
    expect(judged(0.05, null)).toMatchObject({ verdict: "responded" });
    expect(judged(0.05, 0.05)).toMatchObject({ verdict: "undecided", because: "movement-doubtful" });
    expect(judged(0, null)).toMatchObject({ verdict: "no response" });
    expect(judged(0, -0.05)).toMatchObject({ verdict: "undecided", because: "movement-doubtful" });
  });

  it("doubts the depth by as much as the needle lay aside, and by how well that is known", () => {
    const { depth } = judged(0.05, 0.04);
    // 240 and 660 readings of 0.02 V: 0.0015 V, three times which moves the doubt of 0.04 V by no more than 0.005 V.
    expect(depth!.u).toBeGreaterThan(0.035);
    expect(depth!.u).toBeLessThan(0.046);
    const asideNoiseV = 0.2;
    const known = judged(0.05, 0, asideNoiseV).depth!;
    // The noise's own size is known to 2.4 %: less than 0.9 of it has a chance below 1 in 10 000.
    expect(known.u).toBeGreaterThan(0.9 * asideNoiseV * Math.sqrt(1 / 240 + 1 / 660));
    expect(judged(0.05, 0, asideNoiseV).verdict).toBe("undecided");
  });

  it("judges nearly as without it where the needle turned about its pivot", () => {
    expect(judged(0.05, 0)).toMatchObject({ verdict: "responded" });
    expect(judged(0, 0)).toMatchObject({ verdict: "no response" });
  });
});
