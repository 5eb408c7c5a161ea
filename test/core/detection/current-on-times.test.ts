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

  it("sizes a load without another one that came and went within its on-time", () => {
    const outer = recorded({ onTimes: [[10, 40]], sizeA: 5 });
    const inner = recorded({ onTimes: [[20, 30]], sizeA: 8, baseA: 0 }, 2);
    const currentsA = outer.current!.currentsA.map((a, i) => a + inner.current!.currentsA[i]!);
    const voltagesV = outer.voltagesV.map((v, i) => v + inner.voltagesV[i]! - 24.2);
    const found = currentOnTimes({ ...outer, voltagesV, current: { timesS: outer.timesS, currentsA } }).onTimes;
    expect(found.map(({ onsetS, releaseS }) => [Math.round(onsetS), Math.round(releaseS)])).toEqual([
      [10, 40],
      [20, 30],
    ]);
    expect(Math.abs(found[0]!.changeA - 5)).toBeLessThan(0.05);
    expect(Math.abs(found[1]!.changeA - 8)).toBeLessThan(0.05);
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

  /** Readings without noise but for a small regular unrest, 10 a second for a minute, and the voltage 10 mV/A behind. */
  const plain = (amperes: (t: number) => number, unrestA = 0.002) => {
    const timesS = Float64Array.from({ length: 600 }, (_, i) => i / 10);
    const currentsA = timesS.map((t, i) => amperes(t) + unrestA * (((i * 7) % 5) - 2));
    return { timesS, voltagesV: timesS.map((t) => 24 - 0.01 * amperes(t)), current: { timesS, currentsA } };
  };
  const between = (t: number, from: number, to: number) => t >= from - 1e-9 && t < to - 1e-9;
  const count = (amperes: (t: number) => number) => currentOnTimes(plain(amperes)).onTimes.length;

  it("takes a change of half a second to five minutes for a switching", () => {
    expect(count((t) => (between(t, 20, 20.4) ? 6 : 0))).toBe(0);
    expect(count((t) => (between(t, 20, 20.7) ? 6 : 0))).toBe(1);
    const long = (onS: number) => {
      const timesS = Float64Array.from({ length: 800 }, (_, i) => i / 2);
      const isOn = (t: number) => t >= 20 && t < 20 + onS;
      const currentsA = timesS.map((t, i) => (isOn(t) ? 6 : 0) + 0.002 * (((i * 7) % 5) - 2));
      return currentOnTimes({
        timesS,
        voltagesV: timesS.map((t) => (isOn(t) ? 23.9 : 24)),
        current: { timesS, currentsA },
      }).onTimes.length;
    };
    expect(long(299)).toBe(1);
    expect(long(302)).toBe(0);
  });

  it("takes the settled change from all readings of the later part, and from the next one where none stands in it", () => {
    // 6.1 A and 5.9 A in turn: no reading is within 0.09 A of their mean.
    const ripple = plain((t) => (between(t, 20, 30) ? 6 + 0.1 * (-1) ** Math.round(10 * t) : 0));
    const [rippled] = currentOnTimes(ripple).onTimes;
    expect(Math.abs(rippled!.changeA - 6)).toBeLessThan(0.02);
    // No reading from half of it to a twentieth before its end.
    const whole = plain((t) => (between(t, 20, 30) ? 6 : 0));
    const kept = (series: Float64Array) => series.filter((_, i) => !between(whole.timesS[i]!, 24.5, 29.4));
    const timesS = kept(whole.timesS);
    const current = { timesS, currentsA: kept(whole.current.currentsA) };
    const [load, ...others] = currentOnTimes({ timesS, voltagesV: kept(whole.voltagesV), current }).onTimes;
    expect(others).toEqual([]);
    expect(load!.changeA).toBeCloseTo(6, 1);
  });

  it.each([
    [10, 250, 3],
    [20, 502, 6],
  ])("at %d Hz takes changes of less than eight standard deviations of a difference for none", (rateHz, off, side) => {
    // 0, u, 0, -u in turn: differences of u and -u, as many of each, so 1.4826 u / root two = 1.0484 u for a reading's noise,
    // and root(2 / side) of it for the means of as many as stand in 0.3 s. Those beside the edges differ by u / 3 themselves.
    const u = 0.1;
    const of = (sizeA: number) => {
      const timesS = Float64Array.from({ length: 60 * rateHz + 1 }, (_, i) => i / rateHz);
      const isOn = (i: number) => i >= 20 * rateHz && i < off;
      const currentsA = timesS.map((_, i) => u * [0, 1, 0, -1][i % 4]! + (isOn(i) ? sizeA : 0));
      const voltagesV = timesS.map((_, i) => (isOn(i) ? 23.99 : 24));
      return currentOnTimes({ timesS, voltagesV, current: { timesS, currentsA } }).onTimes.length;
    };
    const limit = 8 * 1.0484 * Math.sqrt(2 / side) - 1 / 3;
    expect(of((limit + 0.05) * u)).toBe(1);
    expect(of((limit - 0.05) * u)).toBe(0);
  });

  it("takes changes of less than two steps of a display for none", () => {
    // Shown in steps of 0.5 A, 20 times a second, with a load of 10 steps that tells them. The readings of the second
    // on-time repeat every 0.3 s, so that each mean over as long is that of the six.
    const stepA = 0.5;
    const found = (...steps: number[]) => {
      const timesS = Float64Array.from({ length: 1200 }, (_, i) => i / 20);
      const shown = timesS.map((_, i) => (i >= 200 && i < 300 ? 10 : i >= 600 && i < 702 ? steps[i % 6]! : 0));
      const voltagesV = shown.map((each) => 24 - 0.02 * each);
      const current = { timesS, currentsA: shown.map((each) => stepA * each) };
      return currentOnTimes({ timesS, voltagesV, current }).onTimes.length;
    };
    expect(found(1, 2, 1, 2, 1, 2)).toBe(1);
    expect(found(2, 2, 2, 2, 2, 1)).toBe(1);
    expect(found(2, 2, 2, 2, 2, 3)).toBe(2);
  });

  it("takes changes of less than 2 % of the range for none", () => {
    const beside = (amperes: number) =>
      count((t) => (between(t, 10, 15) ? 100 : 0) + (between(t, 30, 35) ? amperes : 0));
    expect(beside(2.2)).toBe(2);
    expect(beside(1.8)).toBe(1);
  });

  it("asks that the current comes back to within three tenths of the change", () => {
    const back = (left: number) => count((t) => (between(t, 20, 30) ? 10 : t >= 30 ? left : 0));
    expect(back(2.9)).toBe(1);
    expect(back(3.1)).toBe(0);
  });

  it("asks that a fifth of the edge is left once settled: a mere surge is no load", () => {
    const settling = (share: number) => count((t) => (between(t, 20, 30) ? (t < 20.35 ? 10 : 10 * share) : 0));
    expect(settling(0.25)).toBe(1);
    expect(settling(0.15)).toBe(0);
  });

  it("takes each release once, by the first onset that it undoes", () => {
    // Two loads, the second within the first: 10 to 40 s with 5 A, 20 to 30 s with 8 A more.
    const { onTimes: found } = currentOnTimes(
      plain((t) => (between(t, 10, 40) ? 5 : 0) + (between(t, 20, 30) ? 8 : 0)),
    );
    expect(found.map(({ onsetS, releaseS }) => [Math.round(onsetS), Math.round(releaseS)])).toEqual([
      [10, 40],
      [20, 30],
    ]);
  });

  it("has no sign where the voltage falls in neither direction, and counts those on-times as charging", () => {
    const { timesS, current } = plain((t) => (between(t, 20, 30) ? 10 : 0));
    expect(currentOnTimes({ timesS, current, voltagesV: timesS.map(() => 24) })).toEqual({
      onTimes: [],
      sign: null,
      chargingCount: 1,
    });
    const rising = timesS.map((t) => (between(t, 20, 30) ? 24.1 : 24));
    expect(currentOnTimes({ timesS, current, voltagesV: rising })).toMatchObject({ onTimes: [], sign: null });
  });

  it("takes the voltage's fall from as many readings before as within, where each has its own times", () => {
    const { current } = plain((t) => (between(t, 20, 30) ? 10 : 0));
    const sparse = Float64Array.of(0, 10, 18, 19, 22, 28, 31, 40);
    const voltagesV = sparse.map((t) => (between(t, 20, 30) ? 23.9 : 24));
    expect(currentOnTimes({ timesS: sparse, voltagesV, current })).toMatchObject({ sign: 1, onTimes: [{}] });
    // One reading within tells nothing.
    const fewer = Float64Array.of(0, 10, 18, 19, 22, 31, 40);
    expect(
      currentOnTimes({ timesS: fewer, voltagesV: fewer.map((t) => (between(t, 20, 30) ? 23.9 : 24)), current }).sign,
    ).toBeNull();
  });

  it("takes that fall from up to twenty readings before the on-time, not from the last two", () => {
    const { timesS, current } = plain((t) => (between(t, 20, 30) ? 10 : 0));
    // The last `dent` readings before it are 0.2 V low. Nine of twenty: 24 V less 0.09 V, above the 23.9 V within; eleven: below.
    const sign = (dent: number) =>
      currentOnTimes({
        timesS,
        current,
        voltagesV: timesS.map((t) => (between(t, 20, 30) ? 23.9 : between(t, 20 - dent / 10, 20) ? 23.8 : 24)),
      }).sign;
    expect(sign(9)).toBe(1);
    expect(sign(11)).toBeNull();
  });

  it("puts an edge that took several readings where half of it is done", () => {
    const ramp = (t: number) =>
      Math.max(0, Math.min(1, (t - 19.95) / 0.4)) - Math.max(0, Math.min(1, (t - 29.95) / 0.4));
    const [one] = currentOnTimes(plain((t) => 10 * ramp(t))).onTimes;
    // Half done at 20.15 s and 30.15 s: between the readings at 20.1 and 20.2 s.
    expect(one!.onsetS).toBeCloseTo(20.15, 6);
    expect(one!.releaseS).toBeCloseTo(30.15, 6);
    expect(one!.uTimeS).toBeCloseTo(0.1 / Math.sqrt(12), 9);
    expect(Math.abs(one!.changeA - 10)).toBeLessThan(0.5);
  });
});
