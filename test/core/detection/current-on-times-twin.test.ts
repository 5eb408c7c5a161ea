import { describe, expect, it } from "vitest";
import { type CurrentOnTimes, currentOnTimes } from "../../../src/core/detection/current-on-times.js";
import { currentNoise } from "../../../src/core/estimation/current-step.js";
import type { Recording } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
const largest = (values: readonly number[]) => values.reduce((a, b) => Math.max(a, b));
function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/** The same rules over plain arrays, every mean taken anew. */
function byHand(recording: Recording): CurrentOnTimes {
  const times = Array.from(recording.current!.timesS);
  const amperes = Array.from(recording.current!.currentsA);
  const n = times.length;
  const intervalS = middle(times.slice(1).map((t, i) => t - times[i]!));
  const side = Math.max(3, Math.round(0.3 / intervalS));
  const { sigmaA, quantumA } = currentNoise(recording.current!.currentsA);
  const range = largest(amperes) + largest(amperes.map((a) => -a));
  const limit = largest([8 * sigmaA * Math.sqrt(2 / side), 2 * quantumA, 0.02 * range]);
  const step = (i: number) => mean(amperes.slice(i, i + side)) - mean(amperes.slice(Math.max(0, i - side), i));

  const edges: { timeS: number; uTimeS: number; beforeA: number; changeA: number }[] = [];
  for (let i = 1; i < n; ) {
    if (Math.abs(step(i)) <= limit) {
      i += 1;
      continue;
    }
    const sign = Math.sign(step(i));
    const stretch = [i];
    while (stretch.at(-1)! + 1 < n && stretch.length <= 3 * side && sign * step(stretch.at(-1)! + 1) > limit)
      stretch.push(stretch.at(-1)! + 1);
    const best = stretch.find((k) => sign * step(k) === largest(stretch.map((j) => sign * step(j))))!;
    const beforeA = mean(amperes.slice(Math.max(0, best - 2 * side), Math.max(1, best - Math.floor(side / 2))));
    // The furthest of the readings that follow says how far the edge goes.
    const following = amperes.slice(best, best + side + 1);
    const afterA = following.find(
      (a) => Math.abs(a - beforeA) === largest(following.map((b) => Math.abs(b - beforeA))),
    )!;
    const past = Array.from({ length: n }, (_, k) => k).find(
      (k) =>
        k >= Math.max(1, best - side) &&
        k < Math.min(n, best + side + 1) &&
        (afterA > beforeA ? amperes[k]! >= (beforeA + afterA) / 2 : amperes[k]! <= (beforeA + afterA) / 2),
    );
    if (past === undefined) throw new Error("an edge that is never half done");
    const gapS = times[past]! - times[past - 1]!;
    edges.push({ timeS: times[past]! - gapS / 2, uTimeS: gapS / Math.sqrt(12), beforeA, changeA: step(best) });
    i = Math.max(stretch.at(-1)! + 1, best + 1);
  }

  const between = (fromS: number, toS: number) => {
    const inside = amperes.filter((_, k) => times[k]! >= fromS && times[k]! < toS);
    // One reading at the least: the first from then on.
    return mean(inside.length > 0 ? inside : [amperes[times.findIndex((t) => t >= fromS)]!]);
  };
  const paired = (sign: number) => {
    const closed = new Set<number>();
    return edges.flatMap((edge, k) => {
      if (sign * edge.changeA <= 0) return [];
      const fits = (end: (typeof edges)[number], next: number) => {
        const durationS = end.timeS - edge.timeS;
        if (next <= k || durationS > 300 || durationS < 0.5 || sign * end.changeA > 0 || closed.has(next)) return null;
        const untilS = end.timeS - 0.08 * durationS;
        const quietS = next === k + 1 ? edge.timeS : edges[next - 1]!.timeS + 0.5;
        const settledA = between(Math.max(edge.timeS + durationS / 2, Math.min(quietS, untilS)), untilS);
        const changeA = settledA - edge.beforeA;
        const at = Math.min(n - 1, times.filter((t) => t < end.timeS + Math.max(0.3, intervalS)).length);
        const backA = mean(amperes.slice(at, at + 3));
        if (sign * changeA < 0.2 * Math.abs(edge.changeA) || Math.abs(backA - edge.beforeA) > 0.3 * Math.abs(changeA))
          return null;
        return { next, changeA, onsetS: edge.timeS, releaseS: end.timeS, uTimeS: Math.max(edge.uTimeS, end.uTimeS) };
      };
      const [found] = edges.map(fits).filter((one) => one !== null);
      if (found === undefined) return [];
      closed.add(found.next);
      const { next: _, ...onTime } = found;
      return [onTime];
    });
  };

  const volts = Array.from(recording.voltagesV);
  const fall = (onTimes: readonly { onsetS: number; releaseS: number }[]) => {
    const falls = onTimes.flatMap(({ onsetS, releaseS }) => {
      const during = volts.filter((_, k) => recording.timesS[k]! >= onsetS && recording.timesS[k]! < releaseS);
      const earlier = volts.filter((_, k) => recording.timesS[k]! < onsetS);
      const before = earlier.slice(-Math.max(2, Math.min(during.length, 20)));
      return during.length < 2 || before.length < 1 ? [] : [mean(before) - mean(during)];
    });
    return falls.length === 0 ? 0 : mean(falls);
  };
  const [up, down] = [paired(1), paired(-1)];
  const sign = fall(up) >= fall(down) ? 1 : -1;
  const [onTimes, others] = sign === 1 ? [up, down] : [down, up];
  if (!(fall(up) > 0 || fall(down) > 0)) return { onTimes: [], sign: null, chargingCount: onTimes.length };
  const charging = others.filter(({ onsetS }) => !onTimes.some(({ releaseS }) => releaseS === onsetS));
  return { onTimes, sign, chargingCount: charging.length };
}

/** A log of loads and of charging, on clamps fast and slow, fine and coarse, this way round or the other. */
function log(seed: number): Recording {
  const random = randomGenerator(seed);
  const pick = <T>(options: readonly T[]) => options[Math.floor(random.uniform() * options.length)]!;
  const intervalS = pick([0.05, 0.1, 0.25, 1]);
  const sigmaA = pick([0.002, 0.02, 0.2]);
  // Halved evenly, so that equal means are equal to the last bit however they are summed.
  const displayA = pick([0, 0, 0.125]);
  const lagS = pick([0, 0, 0.4]);
  const turned = pick([1, 1, -1]);
  const durationS = 400 * intervalS + (seed % 7 === 0 ? 330 : 0);
  let at = 3 * random.uniform();
  const loads = Array.from({ length: 2 + Math.floor(5 * random.uniform()) }, () => {
    const onS = at + 12 * intervalS * random.uniform();
    const offS = onS + pick([0.4, 3, 8, 20, 320]) * (0.5 + random.uniform()) * Math.max(intervalS, 0.3);
    at = random.uniform() < 0.3 ? onS + 0.3 * (offS - onS) : offS;
    return { onS, offS, sizeA: pick([0.5, 4, 8, -5]), inrush: pick([0, 0, 2]), fades: pick([0, 0, 0.9]) };
  });
  const timesS = Float64Array.from(
    { length: Math.round(durationS / intervalS) },
    (_, i) => (i + 0.2 * random.uniform()) * intervalS,
  );
  let shown = 2;
  const trueA = timesS.map((t) =>
    loads.reduce((sum, { onS, offS, sizeA, inrush, fades }) => {
      if (t < onS || t >= offS) return sum;
      return sum + sizeA * (1 + inrush * Math.exp(onS - t)) * (1 - (fades * (t - onS)) / (offS - onS));
    }, 2),
  );
  const currentsA = trueA.map((a) => {
    shown = lagS > 0 ? shown + (a - shown) * (1 - Math.exp(-intervalS / lagS)) : a;
    const value = turned * (shown + sigmaA * random.normal());
    return displayA > 0 ? displayA * Math.round(value / displayA) : value;
  });
  const gain = pick([0.02, 0.02, 0]);
  const voltagesV = trueA.map((a) => 24.2 - gain * a + 0.003 * random.normal());
  return { timesS, voltagesV, current: { timesS, currentsA } };
}

describe("currentOnTimes() beside its rules over plain arrays", () => {
  it.each([1, 2, 3, 4])("finds the same on-times in logs of every sort (fifty %d)", (fifty) => {
    let count = 0;
    for (let seed = 50 * fifty; seed < 50 * fifty + 50; seed++) {
      const recording = log(seed);
      const [found, hand] = [currentOnTimes(recording), byHand(recording)];
      count += hand.onTimes.length;
      expect([found.onTimes.length, found.sign, found.chargingCount], `log ${seed}`).toEqual([
        hand.onTimes.length,
        hand.sign,
        hand.chargingCount,
      ]);
      found.onTimes.forEach((one, k) => {
        for (const name of ["onsetS", "releaseS", "changeA", "uTimeS"] as const)
          expect(one[name], `log ${seed}, on-time ${k}, ${name}`).toBeCloseTo(hand.onTimes[k]![name], 9);
      });
    }
    expect(count).toBeGreaterThan(30);
  });

  it("needs eight readings of a current", () => {
    const of = (count: number) => {
      const timesS = Float64Array.from({ length: count }, (_, i) => i / 2);
      const currentsA = timesS.map((_, i) => (i >= 3 && i < 6 ? 5 : 0));
      const voltagesV = currentsA.map((a) => 24 - 0.02 * a);
      return currentOnTimes({ timesS, voltagesV, current: { timesS, currentsA } }).sign;
    };
    expect(of(7)).toBeNull();
    expect(of(9)).toBe(1);
    expect(of(8)).toBe(1);
  });
});
