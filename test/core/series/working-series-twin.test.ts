import { describe, expect, it } from "vitest";
import { noiseFactors } from "../../../src/core/noise/noise-factors.js";
import { meterEndV } from "../../../src/core/series/meter-end.js";
import { workingSeries } from "../../../src/core/series/working-series.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/** One reading's scatter by the second differences of neighbours: 1.4826 MAD / root 6, else the mean size. */
function scatterOf(values: readonly number[], most: number): number {
  if (values.length < 3) return 0;
  const stride = Math.max(1, Math.floor((values.length - 2) / most));
  const bends = values
    .slice(1, -1)
    .map((v, i) => Math.abs(values[i]! - 2 * v + values[i + 2]!))
    .filter((_, i) => i % stride === 0);
  const robust = (1.4826 * middle(bends)) / Math.sqrt(6);
  return robust > 1e-12 * Math.max(1, Math.abs(values[0]!)) ? robust : (1.2533 * mean(bends)) / Math.sqrt(6);
}

/** The same over plain arrays: outliers by the rule, blocks by sorting the readings into them. */
function byHand(
  times: readonly number[],
  volts: readonly number[],
  blockS: number,
  stepV: number,
  weights: readonly number[] | null,
) {
  const n = times.length;
  const scatterV = Math.max(scatterOf(volts, 8000), stepV / Math.sqrt(12));
  // Stretches of forty readings and four seconds, the last as it comes.
  const stretches: number[][] = [[]];
  for (let i = 0; i < n; i++) {
    const now = stretches.at(-1)!;
    if (now.length >= 40 && times[i]! - times[now[0]!]! >= 4) stretches.push([i]);
    else now.push(i);
  }
  const own = stretches.map(
    (stretch) =>
      5 *
      scatterOf(
        stretch.map((i) => volts[i]!),
        160,
      ),
  );
  const limitOf = new Map(
    stretches.flatMap((stretch, k) => {
      const limit = Math.max(5 * scatterV, 1.5 * stepV, own[k]!, own[k - 1] ?? 0, own[k + 1] ?? 0);
      return stretch.map((i) => [i, limit] as const);
    }),
  );
  const isOutlier = (i: number) => {
    if (i === 0 || i === n - 1) return false;
    const limit = limitOf.get(i)!;
    const [down, up] = [volts[i]! - volts[i - 1]!, volts[i]! - volts[i + 1]!];
    const alone = Math.min(Math.abs(down), Math.abs(up)) > limit && Math.sign(down) === Math.sign(up) && limit > 0;
    if (!alone || i === 1 || i === n - 2) return alone;
    return Math.abs(volts[i]! - middle(volts.slice(i - 2, i + 3))) > limit;
  };
  const kept = times.map((_, i) => i).filter((i) => !isOutlier(i));
  const blocks = new Map<number, number[]>();
  for (const i of kept) {
    const block = blockS > 0 ? Math.floor((times[i]! - times[0]!) / blockS) : i;
    blocks.set(block, [...(blocks.get(block) ?? []), i]);
  }
  const weightOf = (i: number) => weights?.[i] ?? 1;
  const rows = [...blocks.values()].map((block) => {
    const count = block.reduce((sum, i) => sum + weightOf(i), 0);
    const weighted = (values: readonly number[]) => block.reduce((sum, i) => sum + weightOf(i) * values[i]!, 0) / count;
    return { timeS: weighted(times), valueV: weighted(volts), count };
  });
  const intervals = times.slice(1).map((t, i) => t - times[i]!);
  return { rows, scatterV, outlierCount: n - kept.length, intervalS: middle(intervals) };
}

/** Readings with dips, strays, gaps, a display and stretches of more noise. */
function log(seed: number) {
  const random = randomGenerator(seed);
  const pick = <T>(options: readonly T[]) => options[Math.floor(random.uniform() * options.length)]!;
  const intervalS = pick([0.01, 0.05, 0.2, 1]);
  const stepV = pick([0, 0, 0.01, 0.1]);
  const sigmaV = pick([0.005, 0.03]);
  const count = 5 + Math.floor(260 * random.uniform());
  const times: number[] = [];
  const volts: number[] = [];
  let at = 100 * random.uniform();
  for (let i = 0; i < count; i++) {
    at += intervalS * (random.uniform() < 0.02 ? 30 : 0.8 + 0.4 * random.uniform());
    const restless = i > 0.6 * count ? 4 : 1;
    const dip = i % 60 > 40 ? 0.2 : 0;
    const stray = random.uniform() < 0.05 ? 0.6 * random.normal() : 0;
    const v = 24 - dip + restless * sigmaV * random.normal() + stray;
    times.push(at);
    volts.push(stepV > 0 ? stepV * Math.round(v / stepV) : v);
  }
  const weights = pick([null, volts.map(() => 0.2 + 2 * random.uniform())]);
  return { times, volts, stepV, weights, blockS: pick([0, 3 * intervalS, 10 * intervalS]) };
}

describe("workingSeries() beside its rules over plain arrays", () => {
  it("keeps the same readings, blocks, weights and scatter in 300 logs of every sort", () => {
    let outliers = 0;
    for (let seed = 1; seed <= 300; seed++) {
      const { times, volts, stepV, weights, blockS } = log(seed);
      const hand = byHand(times, volts, blockS, stepV, weights);
      outliers += hand.outlierCount;
      // The range is taken out of a longer recording.
      const before = seed % 3 === 0 ? 4 : 0;
      const pad = (values: readonly number[], by: number) =>
        Float64Array.from([
          ...Array.from({ length: before }, (_, k) => values[0]! - by * (before - k)),
          ...values,
          1e6,
        ]);
      const found = workingSeries(
        pad(times, 1),
        pad(volts, 7),
        { start: before, end: before + times.length },
        blockS,
        stepV > 0 ? stepV : null,
        weights === null ? null : pad(weights, 0),
      );
      expect(found.outlierCount, `log ${seed}`).toBe(hand.outlierCount);
      expect(found.timesS.length, `log ${seed}`).toBe(hand.rows.length);
      hand.rows.forEach(({ timeS, valueV, count }, k) => {
        expect(found.timesS[k]).toBeCloseTo(timeS, 9);
        expect(found.valuesV[k]).toBeCloseTo(valueV, 9);
        expect(found.readingCounts[k]).toBeCloseTo(count, 9);
      });
      expect(found.readingScatterV).toBeCloseTo(hand.scatterV, 12);
      expect(found.medianIntervalS).toBeCloseTo(hand.intervalS, 12);
      expect(found.blockS).toBe(blockS);
      // Behind a display of more than some one and a half scatters the digits say nothing of how steady the noise is.
      const unsteady =
        hand.scatterV < 0.7 * stepV ? null : noiseFactors(found.timesS, found.valuesV, found.readingCounts);
      expect(found.noiseFactors).toEqual(unsteady?.factors ?? null);
      expect(found.noiseRatio).toBe(unsteady?.ratio ?? 1);
    }
    expect(outliers).toBeGreaterThan(300);
  });
});

/** The end of a meter's range by the rule over plain arrays. */
function endByHand(volts: readonly number[], stepV: number): number | null {
  const n = volts.length;
  const [lowest, highest] = [volts.reduce((a, b) => Math.min(a, b)), volts.reduce((a, b) => Math.max(a, b))];
  if (lowest === highest) return null;
  const isEnd = (end: number) => {
    const there = volts.filter((v) => v === end).length;
    if (there < 10 || there < 0.03 * n) return false;
    const near = Math.max(0.002 * Math.abs(end), 2 * stepV);
    if (volts.every((v) => v === end || Math.abs(v - end) >= near)) return false;
    if (stepV === 0 || there >= 0.99 * n) return true;
    const inner = volts.map((_, i) => i).slice(1, -1);
    const bends = inner
      .filter((i) => [i - 1, i, i + 1].every((k) => volts[k] !== end))
      .map((i) => Math.abs(volts[i - 1]! - 2 * volts[i]! + volts[i + 1]!));
    const away = inner.filter((i) => volts[i] !== end);
    const alone = away.filter((i) => volts[i - 1] === end && volts[i + 1] === end);
    // Mean size of a normal variable: 1 / 1.2533 of its deviation.
    const scatter = bends.length < 10 ? 0 : (1.2533 * mean(bends)) / Math.sqrt(6);
    const excursion =
      alone.length > 0 && 2 * alone.length >= away.length ? mean(alone.map((i) => Math.abs(volts[i]! - end))) : 0;
    return scatter >= 1.5 * stepV || excursion >= 1.5 * stepV;
  };
  return isEnd(highest) ? highest : isEnd(lowest) ? lowest : null;
}

describe("meterEndV() beside its rule over plain arrays", () => {
  it("finds the same end in 1,500 logs whose meters end somewhere", () => {
    const seen = { none: 0, upper: 0, lower: 0 };
    for (let seed = 1; seed <= 1500; seed++) {
      const random = randomGenerator(seed);
      const pick = <T>(options: readonly T[]) => options[Math.floor(random.uniform() * options.length)]!;
      const stepV = pick([0, 0.01, 0.1]);
      const sigmaV = pick([0.3, 1, 2, 4]) * Math.max(stepV, 0.01);
      const count = pick([12, 40, 150, 500]);
      const topV = 24 + sigmaV * pick([-3, -1, 0, 1, 2.2, 9]);
      const bottomV = 24 - sigmaV * pick([-0.5, 1, 2.2, 9, 9]);
      const share = pick([1, 1, 0.3]);
      const volts = Array.from({ length: count }, (_, i) => {
        const v = 24 + (i < share * count ? sigmaV * random.normal() : 0.5 * sigmaV);
        const shown = Math.min(topV, Math.max(bottomV, v));
        return stepV > 0 ? stepV * Math.round(shown / stepV) : shown;
      });
      const hand = endByHand(volts, stepV);
      seen[hand === null ? "none" : hand > 24 ? "upper" : "lower"] += 1;
      expect(meterEndV(Float64Array.from(volts), stepV > 0 ? stepV : null), `log ${seed}`).toBe(hand);
    }
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(50);
  });
});
