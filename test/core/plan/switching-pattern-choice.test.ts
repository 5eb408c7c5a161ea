import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { switchingPattern } from "../../../src/core/plan/switching-pattern.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0);

/** The greater likeness, to the best sine of 3 s to half a minute or to itself later by the shortest time or more. */
function worstLikeness(onS: readonly number[], offS: readonly number[]): number {
  const plain = onS.flatMap((on, k) => [...new Array(on).fill(1), ...new Array(offS[k] ?? 0).fill(0)]);
  const mean = sum(plain) / plain.length;
  const wave = plain.map((value) => value - mean);
  const squares = sum(wave.map((value) => value * value));
  const shortest = Math.min(...onS, ...offS);
  let most = 0;
  for (let k = 0; k < 48; k++) {
    const turn = (2 * Math.PI) / (3 * 1.05 ** k);
    const re = sum(wave.map((value, i) => value * Math.cos(turn * i)));
    const im = sum(wave.map((value, i) => value * Math.sin(turn * i)));
    most = Math.max(most, Math.hypot(re, im) * Math.sqrt(2 / wave.length / squares));
  }
  for (let lag = shortest; lag < wave.length; lag++) {
    most = Math.max(most, Math.abs(sum(wave.map((value, i) => value * (wave[i + lag] ?? 0)))) / squares);
  }
  return most;
}

describe("switchingPattern() beside patterns drawn at random", () => {
  it.each([
    [4, 5, null],
    [5, 6, null],
    [6, 4, null],
    [8, 5, null],
    [6, 6, 30],
  ])(
    "of %d switchings about every %d s, limit %s, is one of the best of all",
    (switchingCount, cadenceS, timeLimitS) => {
      const chosen = switchingPattern({ switchingCount, cadenceS, timeLimitS })!;
      const own = worstLikeness(chosen.onS, chosen.offS);
      expect(Math.max(chosen.cycleLikeness, chosen.sideLobe)).toBeCloseTo(own, 9);
      const random = randomSource(17);
      const [shortest, longest] = [Math.max(2, Math.round(0.55 * cadenceS)), Math.round(1.5 * cadenceS)];
      const draw = (count: number) =>
        Array.from({ length: count }, () => shortest + Math.floor(random.uniform() * (longest - shortest + 1)));
      const mostS = Math.min(timeLimitS ?? Number.POSITIVE_INFINITY, Math.ceil((cadenceS + 0.5) * switchingCount));
      const others: number[] = [];
      while (others.length < 200) {
        const [onS, offS] = [draw(switchingCount), draw(switchingCount - 1)];
        // Those alone that the wishes allow as they are drawn.
        if (sum(onS) > mostS || sum(onS) < 0.8 * Math.min(mostS, cadenceS * switchingCount)) continue;
        others.push(worstLikeness(onS, offS));
      }
      // The best of about sixty: beaten by more than a tenth of all with a chance of 0.9^60, 0.2 %.
      expect(others.filter((worst) => worst < own).length / others.length).toBeLessThan(0.1);
    },
  );
});

describe("switchingPattern() beside all of its candidates judged in full", () => {
  /** Seconds off the longest times, one by one, until their sum is allowed or all are the shortest. */
  function cut(timesS: readonly number[], mostS: number, shortestS: number): number[] {
    const out = [...timesS];
    while (sum(out) > mostS && Math.max(...out) > shortestS) out[out.indexOf(Math.max(...out))]! -= 1;
    return out;
  }

  it.each([
    [3, 3, null],
    [4, 5, null],
    [5, 8, null],
    [6, 4, 20],
    [6, 6, 30],
    [3, 2, 6],
    [8, 3, 16],
    [4, 5, 12],
  ])(
    "of %d switchings about every %d s, limit %s, is the least like a cycle or itself",
    (count, cadenceS, timeLimitS) => {
      const random = randomGenerator(1000 * count + 10 * cadenceS);
      const shortestS = Math.max(2, Math.round(0.55 * cadenceS));
      const draw = (length: number) =>
        Array.from({ length }, () => {
          return shortestS + Math.floor(random.uniform() * (Math.round(1.5 * cadenceS) - shortestS + 1));
        });
      const mostS = Math.min(timeLimitS ?? Number.POSITIVE_INFINITY, Math.ceil((cadenceS + 0.5) * count));
      const candidates = Array.from({ length: 60 }, () => {
        const onS = draw(count);
        return { onS: cut(onS, mostS, shortestS), offS: draw(count - 1) };
      })
        .filter(({ onS }) => sum(onS) >= 0.8 * Math.min(mostS, cadenceS * count))
        .map((one) => ({ ...one, worst: worstLikeness(one.onS, one.offS) }));
      const best = candidates.reduce((least, one) => (one.worst < least.worst - 1e-12 ? one : least));
      const chosen = switchingPattern({ switchingCount: count, cadenceS, timeLimitS })!;
      expect([chosen.onS, chosen.offS]).toEqual([best.onS, best.offS]);
      expect(chosen.totalOnS).toBe(sum(best.onS));
      expect(chosen.lengthS).toBe(sum(best.onS) + sum(best.offS));
    },
  );

  it("is none where the limit is less than the shortest times together", () => {
    // About every five seconds three are the least: twelve for four switchings.
    expect(switchingPattern({ switchingCount: 4, cadenceS: 5, timeLimitS: 12 })).not.toBeNull();
    expect(switchingPattern({ switchingCount: 4, cadenceS: 5, timeLimitS: 11 })).toBeNull();
  });
});
