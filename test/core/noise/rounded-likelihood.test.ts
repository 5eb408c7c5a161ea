import { describe, expect, it } from "vitest";
import { roundedLogLikelihood } from "../../../src/core/noise/rounded-likelihood.js";
import { whitenedProducts } from "../../../src/core/noise/whitening.js";
import { normalCdf } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { noises, readingCounts, residualsV, timesS } from "./readings.js";

const none = (n: number) => new Float64Array(n);

describe("roundedLogLikelihood()", () => {
  it.each([0.25, 0.4, 0.8])(
    "with white noise of %d steps, follows the probability of the digits summed over all levels",
    (sd) => {
      for (let seed = 1; seed <= 12; seed++) {
        const random = randomGenerator(seed);
        // So short that no slope matters: one unknown level, and a dip in the second half.
        const n = 40;
        const times = Float64Array.from({ length: n }, (_, i) => 0.001 * i);
        const template = times.map((_, i) => (i < n / 2 ? 0 : -1));
        const level = random.uniform();
        const shown = template.map((on) => Math.round(level + 0.3 * on + sd * random.normal()));
        const noise = { whiteV: sd, colouredV: 1e-6, colouredTimeS: 1, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
        const readings = {
          sampled: { timesS: times, readingCounts: none(n).fill(1) },
          shownV: shown,
          stepV: 1,
          othersV: none(n),
        };
        const summed = (depth: number) => {
          let total = 0;
          for (let at = -3; at <= 4; at += 0.005) {
            let logProduct = 0;
            for (let i = 0; i < n; i++) {
              const off = shown[i]! - at - depth * template[i]!;
              logProduct += Math.log(Math.max(normalCdf((off + 0.5) / sd) - normalCdf((off - 0.5) / sd), 1e-300));
            }
            total += Math.exp(logProduct) * Math.exp((-at * at) / 8);
          }
          return Math.log(total);
        };
        const ours = (depth: number) => roundedLogLikelihood(readings, template, depth, noise);
        for (const depth of [0.15, 0.3, 0.5]) {
          const exact = summed(depth) - summed(0);
          // What moment matching costs: half a unit moves a signed root of 3 by a sixth.
          expect(Math.abs(ours(depth) - ours(0) - exact), `seed ${seed}, ${depth}`).toBeLessThan(0.5);
        }
      }
    },
  );

  it.each(noises)("%s: as the step vanishes, becomes the likelihood of the readings themselves", (_name, noise) => {
    const n = timesS.length;
    const counts = none(n).fill(1);
    const step = timesS.map((t) => (t > 6 && t < 9 ? -1 : 0));
    const columns = new Float64Array(n * 4);
    for (let i = 0; i < n; i++) columns.set([1, timesS[i]! - timesS[0]!, step[i]!, residualsV[i]!], i * 4);
    const { gram } = whitenedProducts({ timesS, readingCounts: counts }, columns, 4, noise);
    // Level and slope with their wide priors, which the filter starts from.
    const stepV = 1e-5;
    const prior = [(1 + stepV) ** -2, 0.02 ** -2];
    const rss = (depth: number) => {
      const right = [gram[3]! - depth * gram[2]!, gram[7]! - depth * gram[6]!];
      const [a, b, c] = [gram[0]! + prior[0]!, gram[1]!, gram[5]! + prior[1]!];
      const determinant = a * c - b * b;
      const explained = (c * right[0]! ** 2 - 2 * b * right[0]! * right[1]! + a * right[1]! ** 2) / determinant;
      return gram[15]! - 2 * depth * gram[11]! + depth ** 2 * gram[10]! - explained;
    };
    const readings = { sampled: { timesS, readingCounts }, shownV: residualsV, stepV, othersV: none(n) };
    const found = roundedLogLikelihood(readings, step, 0.05, noise) - roundedLogLikelihood(readings, step, 0, noise);
    const expected = (rss(0) - rss(0.05)) / 2;
    expect(Math.abs(found - expected)).toBeLessThan(1e-3 * Math.max(1, Math.abs(expected)));
  });

  it.each([1, -1])("of a reading far off its level is what numerical moments of the cut distribution give", (sign) => {
    const [n, sd] = [4, 0.01];
    const shown = [0, 8, 8, 7].map((digit) => sign * digit);
    const noise = { whiteV: sd, colouredV: 1e-6, colouredTimeS: 1, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
    const readings = {
      sampled: { timesS: Float64Array.from({ length: n }, (_, i) => 1e-3 * i), readingCounts: none(n).fill(1) },
      shownV: Float64Array.from(shown),
      stepV: 1,
      othersV: none(n),
    };
    // The same filter for a level alone, of prior 2 V; integrals by the midpoint rule about the nearer bound.
    let [level, variance, expected] = [0, 4, 0];
    for (const digit of shown) {
      const total = variance + sd * sd;
      const low = (digit - 0.5 - level) / Math.sqrt(total);
      const high = (digit + 0.5 - level) / Math.sqrt(total);
      const peak = Math.max(low, Math.min(high, 0));
      const sums = [0, 0, 0];
      const count = 100_000;
      for (let k = 0; k < count; k++) {
        const z = low + ((k + 0.5) / count) * (high - low);
        const density = Math.exp((peak * peak - z * z) / 2);
        sums.forEach((_, power) => {
          sums[power] += (density * (z - peak) ** power * (high - low)) / count;
        });
      }
      const [mass, first, second] = sums as [number, number, number];
      expected += Math.log(mass / Math.sqrt(2 * Math.PI)) - (peak * peak) / 2;
      const mean = first / mass;
      const gain = variance / total;
      level += gain * Math.sqrt(total) * (peak + mean);
      variance -= gain * variance * (1 - (second / mass - mean * mean));
    }
    // The second reading lies 26 standard deviations off. Taken for exponential, its mass is off by 1 / 26^2.
    expect(Math.abs(roundedLogLikelihood(readings, none(n), 0, noise) - expected)).toBeLessThan(0.02);
  });

  it("takes what other loads add for known", () => {
    const noise = noises[4]![1];
    const n = timesS.length;
    const template = timesS.map((t) => (t > 6 && t < 9 ? -1 : 0));
    const othersV = timesS.map((t) => (t > 20 ? -0.4 : 0));
    const moved = residualsV.map((v, i) => v + othersV[i]!);
    const sampled = { timesS, readingCounts };
    const plain = roundedLogLikelihood(
      { sampled, shownV: residualsV, stepV: 0.1, othersV: none(n) },
      template,
      0,
      noise,
    );
    const beside = roundedLogLikelihood({ sampled, shownV: moved, stepV: 0.1, othersV }, template, 0, noise);
    expect(beside).toBeCloseTo(plain, 9);
  });
});
