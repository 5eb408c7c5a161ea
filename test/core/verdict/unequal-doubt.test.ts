import { describe, expect, it } from "vitest";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { unequalDoubtV } from "../../../src/core/verdict/unequal-doubt.js";

const times = [20, 40, 60].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
const isOn = (t: number) => times.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
const timesS = Float64Array.from({ length: 900 }, (_, i) => i / 10);
const doubtful = (onV: number, offV: number) => ({
  timesS,
  voltagesV: timesS.map(() => 24),
  readingUncertaintiesV: timesS.map((t) => (isOn(t) ? onV : offV)),
});

describe("unequalDoubtV()", () => {
  it("is what the typical reading of the more doubtful side is doubted beyond that of the other, as variances", () => {
    expect(unequalDoubtV(doubtful(0.05, 0.03), times, times)).toBeCloseTo(0.04, 12);
    expect(unequalDoubtV(doubtful(0.05, 0.13), times, times)).toBeCloseTo(0.12, 12);
    expect(unequalDoubtV(doubtful(0.02, 0.02), times, times)).toBe(0);
  });

  it("is nothing where readings tell no uncertainty, or too few lie on a side", () => {
    const { readingUncertaintiesV: _, ...plain } = doubtful(0.05, 0.01);
    expect(unequalDoubtV(plain, times, times)).toBe(0);
    expect(unequalDoubtV(doubtful(0.05, 0.03), [{ onsetS: 20, releaseS: 20.25 }], times)).toBeCloseTo(0.04, 12);
    expect(unequalDoubtV(doubtful(0.05, 0.01), [{ onsetS: 20, releaseS: 20.15 }], times)).toBe(0);
  });

  it("leaves the on-times of other loads out of what it is held against", () => {
    expect(unequalDoubtV(doubtful(0.05, 0.03), times.slice(0, 1), times)).toBeCloseTo(0.04, 12);
    // Where another load is on for nearly all of the recording, nothing is left to hold it against.
    expect(unequalDoubtV(doubtful(0.05, 0.01), times.slice(0, 1), [{ onsetS: 0, releaseS: 89.85 }])).toBe(0);
  });
});

describe("analyze() of readings that are doubtful while the load is on", () => {
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
  const judged = (shownV: number, onV: number) => {
    const random = randomGenerator(3);
    const voltagesV = timesS.map(
      (t) => 24.3 + 0.3 * Math.exp(-t / 60) - (isOn(t) ? shownV : 0) + 0.008 * random.normal(),
    );
    return analyze({ ...doubtful(onV, 0.008), voltagesV }, { marks, profile }).loads[0]!;
  };

  it("neither says responded of a shift within that doubt, nor no response where it may hide a dip", () => {
    expect(judged(0.05, 0.12).verdict).toBe("undecided");
    expect(judged(0, 0.12).verdict).toBe("undecided");
    const { depth, minimumDetectableDepthV } = judged(0.05, 0.12);
    expect(depth!.u).toBeGreaterThan(0.119);
    expect(minimumDetectableDepthV).toBeGreaterThan((1.645 + 2.326) * 0.119);
  });

  it("judges as before where they are no more doubtful", () => {
    expect(judged(0.05, 0.009)).toMatchObject({ verdict: "responded" });
    expect(judged(0, 0.009)).toMatchObject({ verdict: "no response" });
  });
});
