import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { currentOnTimes } from "../../../src/core/detection/current-on-times.js";
import type { Recording } from "../../../src/core/index.js";

interface Plan {
  readonly onTimes: readonly (readonly [number, number])[];
  readonly sizeA?: number;
  readonly baseA?: number;
  readonly sigmaA?: number;
  readonly sign?: 1 | -1;
  readonly lagS?: number;
  readonly inrush?: number;
  readonly rateHz?: number;
}

/** Current of a load of the plan, and the voltage of a 20 mOhm source behind it. */
function recorded(plan: Plan, seed = 1): Recording {
  const { sizeA = 6, baseA = 2, sigmaA = 0.02, sign = 1, lagS = 0, inrush = 0, rateHz = 20 } = plan;
  const random = randomSource(seed);
  const timesS = Float64Array.from({ length: 60 * rateHz }, (_, i) => i / rateHz);
  let shownA = baseA;
  const trueA = timesS.map((t) => {
    const on = plan.onTimes.find(([onS, offS]) => t >= onS && t < offS);
    return baseA + (on === undefined ? 0 : sizeA * (1 + inrush * Math.exp(-(t - on[0]) / 1)));
  });
  const currentsA = trueA.map((a) => {
    shownA = lagS > 0 ? shownA + (a - shownA) * (1 - Math.exp(-1 / rateHz / lagS)) : a;
    return sign * (shownA + sigmaA * random.normal());
  });
  const voltagesV = trueA.map((a) => 24.2 - 0.02 * a + 0.003 * random.normal());
  return { timesS, voltagesV, current: { timesS, currentsA } };
}

const onTimes = [
  [12.02, 17.31],
  [24.5, 30.13],
  [38.77, 43.2],
] as const;

function expectTimes(found: ReturnType<typeof currentOnTimes>, withinS: number) {
  expect(found.onTimes.length).toBe(onTimes.length);
  found.onTimes.forEach(({ onsetS, releaseS }, k) => {
    expect(Math.abs(onsetS - onTimes[k]![0]), `onset ${k}`).toBeLessThan(withinS);
    expect(Math.abs(releaseS - onTimes[k]![1]), `release ${k}`).toBeLessThan(withinS);
  });
}

describe("currentOnTimes()", () => {
  it("finds each on-time between two readings, and its settled current", () => {
    const found = currentOnTimes(recorded({ onTimes }));
    expectTimes(found, 0.05 + 1e-9);
    for (const { changeA, uTimeS } of found.onTimes) {
      expect(Math.abs(changeA - 6)).toBeLessThan(0.05);
      // Evenly anywhere between two readings 0.05 s apart.
      expect(uTimeS).toBeCloseTo(0.05 / Math.sqrt(12), 6);
    }
  });

  it("counts no charging where the current only falls back between two switchings, and counts a real one", () => {
    expect(currentOnTimes(recorded({ onTimes })).chargingCount).toBe(0);
    const plain = recorded({ onTimes });
    const charged = (t: number) => (t >= 5 && t < 9 ? 4 : 0);
    const currentsA = plain.current!.currentsA.map((a, i) => a - charged(plain.timesS[i]!));
    const voltagesV = plain.voltagesV.map((v, i) => v + 0.02 * charged(plain.timesS[i]!));
    const found = currentOnTimes({ ...plain, voltagesV, current: { timesS: plain.timesS, currentsA } });
    expect([found.onTimes.length, found.chargingCount]).toEqual([3, 1]);
  });

  it("finds them in a clamp of the other sign, and says which sign discharges", () => {
    const found = currentOnTimes(recorded({ onTimes, sign: -1 }));
    expect(found.sign).toBe(-1);
    expectTimes(found, 0.06);
    expect(currentOnTimes(recorded({ onTimes })).sign).toBe(1);
  });

  it("finds a heater that starts cold, and states its settled change", () => {
    const found = currentOnTimes(recorded({ onTimes, inrush: 0.8 }));
    expectTimes(found, 0.06);
    // From half of 4.4 s on the inrush is below 0.8 exp(-2.2) = 9 %, and 4 % in the mean.
    for (const { changeA } of found.onTimes) expect(Math.abs(changeA / 6 - 1)).toBeLessThan(0.06);
  });

  it("keeps the onset in its place where the clamp follows slowly", () => {
    expectTimes(currentOnTimes(recorded({ onTimes, lagS: 0.15 })), 0.25);
  });

  it("finds nothing in a steady current, over many recordings", () => {
    for (let seed = 1; seed <= 30; seed++) {
      expect(currentOnTimes(recorded({ onTimes: [], sigmaA: 0.3 }, seed)).onTimes.length, `seed ${seed}`).toBe(0);
    }
  });

  it("has no answer where no current was measured, or too little of it", () => {
    const { timesS, voltagesV } = recorded({ onTimes });
    expect(currentOnTimes({ timesS, voltagesV }).onTimes).toEqual([]);
    const short = { timesS: timesS.slice(0, 5), currentsA: new Float64Array(5) };
    expect(currentOnTimes({ timesS, voltagesV, current: short })).toEqual({
      onTimes: [],
      sign: null,
      chargingCount: 0,
    });
  });

  it("a load that stays on to the end of the recording is no on-time", () => {
    expect(currentOnTimes(recorded({ onTimes: [[30, 99]] })).onTimes.length).toBe(0);
  });
});
