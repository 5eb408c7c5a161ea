import { describe, expect, it } from "vitest";
import { boundariesOf, placesWithoutStrays } from "../../../src/core/estimation/current-boundaries.js";
import { type CurrentStep, currentNoise, currentSteps } from "../../../src/core/estimation/current-step.js";
import { levelBeside } from "../../../src/core/estimation/level-beside.js";
import { displayStepV } from "../../../src/core/noise/display-step.js";
import type { CurrentSeries } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { robustNoise } from "../../../src/core/statistics/robust-scale.js";
import { generalizedLeastSquares } from "../../oracles/dense-noise.js";

const span = (values: ArrayLike<number>) => Math.max(...Array.from(values)) - Math.min(...Array.from(values));

/** Height of a step at `at` beside level and drift common to both sides, by least squares on three columns. */
function stepBesideDrift(values: Float64Array, from: number, at: number, to: number) {
  const places = Array.from({ length: to - from }, (_, k) => from + k);
  const identity = places.map((_, i) => places.map((__, j) => (i === j ? 1 : 0)));
  const columns = [places.map(() => 1), places.map((k) => k - at), places.map((k) => (k >= at ? 1 : 0))];
  const fit = generalizedLeastSquares(identity, columns, values.slice(from, to));
  return { deltaA: fit.estimates[2]!, noiseFactor: Math.sqrt(fit.estimateCovariance[2]![2]!) };
}

/** The steepest slope of four readings on either side, in the direction of the step, where it stands out of the noise. */
function clearSlope(amperes: Float64Array, first: number, rise: number, sigmaA: number): number {
  const pairs = [
    [first - 4, first - 1],
    [first, first + 3],
  ].filter(([a, b]) => a! >= 0 && b! < amperes.length);
  const steepest = Math.max(0, ...pairs.map(([a, b]) => (rise * (amperes[b!]! - amperes[a!]!)) / 3));
  return steepest > (4 * Math.SQRT2 * sigmaA) / 3 ? steepest : 0;
}

/** The rules one after the other, each change by itself. */
function byHand(current: CurrentSeries, minimumStepA?: number): CurrentStep[] {
  const displayed = displayStepV(current.currentsA) ?? 0;
  // A display step that is a good part of the range is that of the loads.
  const quantumA = displayed > 0.2 * span(current.currentsA) ? 0 : displayed;
  const sigmaA = Math.max(robustNoise(current.currentsA), 0.3 * quantumA, 1e-6 * span(current.currentsA));
  const places = placesWithoutStrays(current.currentsA, sigmaA);
  const times = Float64Array.from(places, (k) => current.timesS[k]!);
  const amperes = Float64Array.from(places, (k) => current.currentsA[k]!);
  const n = amperes.length;
  const found = boundariesOf(amperes, sigmaA);
  const groups: (typeof found)[number][][] = [];
  for (const boundary of found) {
    const group = groups.at(-1);
    const goesOn =
      group !== undefined &&
      boundary.index - group.at(-1)!.index <= 2 &&
      Math.sign(boundary.jumpA) === Math.sign(group[0]!.jumpA);
    if (goesOn) group.push(boundary);
    else groups.push([boundary]);
  }
  const changes = groups.map((group, g) => {
    const [first, last] = [group[0]!.index, group.at(-1)!.index];
    const from = g === 0 ? 0 : groups[g - 1]!.at(-1)!.index;
    const to = g + 1 < groups.length ? groups[g + 1]![0]!.index : n;
    const before = levelBeside(amperes, Math.max(from, first - 8), first, "end", sigmaA);
    const after = levelBeside(amperes, last, Math.min(to, last + 8), "start", sigmaA);
    const wide = [Math.max(from, first - 20), Math.min(to, first + 20)] as const;
    const steady = group.length === 1 && !before.slopes && !after.slopes;
    const enough = first - wide[0] >= 6 && wide[1] - first >= 6;
    const { deltaA, noiseFactor } =
      steady && enough
        ? stepBesideDrift(amperes, wide[0], first, wide[1])
        : { deltaA: after.level - before.level, noiseFactor: Math.hypot(before.noiseFactor, after.noiseFactor) };
    const largest = group.reduce((best, one) => (Math.abs(one.jumpA) > Math.abs(best.jumpA) ? one : best));
    const dominated = Math.abs(largest.jumpA) >= 0.9 * Math.abs(deltaA);
    const halfway = group.length === 2 && !dominated && last - first === 1;
    const clear = clearSlope(amperes, first, Math.sign(deltaA), sigmaA);
    const sharp =
      group.length > 1 ? dominated || halfway : deltaA * largest.jumpA > 0 && Math.abs(deltaA) >= 2.5 * clear;
    const atLargest = group.length > 1 ? dominated : true;
    return {
      start: atLargest ? largest.index - 1 : first - 1,
      end: atLargest ? largest.index : last,
      beforeA: before.level,
      afterA: after.level,
      deltaA,
      uDeltaA: sigmaA * noiseFactor,
      sharp,
    };
  });
  const least = minimumStepA ?? 0.02 * span(amperes);
  const counted = changes.filter(
    ({ deltaA, uDeltaA }) =>
      Math.abs(deltaA) >= least && Math.abs(deltaA) >= 2 * quantumA && Math.abs(deltaA) >= 6 * uDeltaA,
  );
  return counted.flatMap((change, k) => {
    if (!change.sharp) return [];
    const { start, end, beforeA, afterA, deltaA } = change;
    const gapS = times[end]! - times[start]!;
    const interval = (i: number) => (i > 0 && i < n ? times[i]! - times[i - 1]! : Number.NaN);
    const near = (a: number, b: number) => Math.abs(a / b - 1) <= 0.05;
    const anew =
      end - start === 1 &&
      near(interval(end + 1), gapS) &&
      near(interval(end + 2), gapS) &&
      near(interval(start - 1), interval(start)) &&
      Math.abs(interval(start) / gapS - 1) > 0.2;
    return [
      {
        beforeS: times[start]!,
        afterS: times[end]!,
        onsetS: anew ? times[start]! : (times[start]! + times[end]!) / 2,
        uOnsetS: anew ? 0 : gapS / Math.sqrt(12),
        beforeA,
        afterA,
        deltaA,
        // Each of the two levels rests on readings that were rounded: q / root 12 each.
        uDeltaA: Math.hypot(change.uDeltaA, quantumA / Math.sqrt(6)),
        quietFromS: k === 0 ? times[0]! : times[counted[k - 1]!.end]!,
        quietToS: k + 1 < counted.length ? times[counted[k + 1]!.start]! : times[n - 1]!,
      },
    ];
  });
}

/** A log of switchings with what a clamp meets: inrush, ramps, drift, strays, half-caught steps, its sampling begun anew. */
function log(seed: number): CurrentSeries {
  const random = randomGenerator(seed);
  const pick = (count: number) => Math.floor(random.uniform() * count);
  const times: number[] = [];
  const values: number[] = [];
  let at = 0;
  let level = 10 * random.uniform() - 2;
  let intervalS = [0.1, 0.5, 1][pick(3)]!;
  const sigma = [0, 0.02, 0.2][pick(3)]!;
  const push = (value: number) => {
    times.push(at);
    values.push(value + sigma * random.normal());
    at += intervalS;
  };
  for (let part = 0; part < 4 + pick(8); part++) {
    const drift = [0, 0, 0.02, 0.4][pick(4)]!;
    const length = [1, 2, 3, 5, 8, 14, 30][pick(7)]!;
    for (let k = 0; k < length; k++) push(level + drift * k);
    level += drift * (length - 1);
    const step = (random.uniform() < 0.5 ? -1 : 1) * [0.3, 2, 8][pick(3)]!;
    const kind = pick(6);
    if (kind === 1) push(level + step * random.uniform());
    if (kind === 2) push(level + step * (2 + 3 * random.uniform()));
    if (kind === 3) for (const share of [0.3, 0.6]) push(level + share * step);
    if (kind === 4) {
      at -= intervalS;
      intervalS *= random.uniform() < 0.5 ? 1.15 : 3;
      at += intervalS;
    }
    if (kind === 5) push(level + 60);
    level += step;
  }
  for (let k = 0; k < 12; k++) push(level);
  const displayA = [0, 0, 0.1, 0.5][pick(4)]!;
  return {
    timesS: Float64Array.from(times),
    currentsA: Float64Array.from(values, (v) => (displayA > 0 ? displayA * Math.round(v / displayA) : v)),
  };
}

describe("currentSteps() beside its rules one by one", () => {
  it.each([1, 2, 3, 4])("finds the same steps in logs of every sort (hundred %d)", (hundred) => {
    let count = 0;
    for (let seed = 100 * hundred; seed < 100 * hundred + 100; seed++) {
      const current = log(seed);
      const minimumStepA = seed % 5 === 0 ? 1 : undefined;
      const found = currentSteps(current, minimumStepA === undefined ? {} : { minimumStepA });
      const hand = byHand(current, minimumStepA);
      count += hand.length;
      expect(found.length, `log ${seed}`).toBe(hand.length);
      found.forEach((step, k) => {
        for (const name of Object.keys(step) as (keyof CurrentStep)[])
          expect(step[name], `log ${seed}, step ${k}, ${name}`).toBeCloseTo(hand[k]![name], 9);
      });
    }
    expect(count).toBeGreaterThan(100);
  });
});

describe("currentNoise()", () => {
  it("is the readings' own, at least three tenths of a display step and a millionth of the range", () => {
    const random = randomGenerator(1);
    const noisy = Float64Array.from({ length: 200 }, () => 5 + random.normal());
    expect(currentNoise(noisy)).toEqual({ sigmaA: robustNoise(noisy), quantumA: 0 });
    const stepped = Float64Array.from({ length: 200 }, (_, k) => (k < 100 ? 0 : 8));
    expect(currentNoise(stepped)).toEqual({ sigmaA: 8e-6, quantumA: 0 });
    const coarse = Float64Array.from({ length: 200 }, (_, k) => 0.1 * (k < 100 ? k % 2 : 50 + (k % 3)));
    const { sigmaA, quantumA } = currentNoise(coarse);
    expect(quantumA).toBeCloseTo(0.1, 9);
    expect(sigmaA).toBeGreaterThanOrEqual(0.3 * quantumA);
  });
});
