import { describe, expect, it } from "vitest";
import { whitenedProducts } from "../../../src/core/noise/whitening.js";
import { denseCovariance, inner, invert, times } from "../../oracles/dense-noise.js";
import { noises, readingCounts, residualsV, timesS } from "./readings.js";

const sampled = { timesS, readingCounts };
const middleS = 15;
const line = timesS.map((t) => (t - middleS) / 12);
const step = timesS.map((t) => (t > 6 && t < 9 ? -1 : 0));
const all = [new Float64Array(timesS.length).fill(1), line, step, residualsV];

function rowMajor(each: readonly Float64Array[]): Float64Array {
  return Float64Array.from(
    { length: timesS.length * each.length },
    (_, k) => each[k % each.length]![Math.floor(k / each.length)]!,
  );
}

/** Bound on the relative difference from elimination in double precision, with the filter's own 1e-9 of white noise. */
const CLOSE = 2e-6;

describe("whitenedProducts()", () => {
  it.each(noises)("%s: every inner product is that of the dense inverse covariance", (_name, noise) => {
    const { inverse } = invert(denseCovariance(timesS, readingCounts, noise));
    const { gram } = whitenedProducts(sampled, rowMajor(all), all.length, noise);
    for (let a = 0; a < all.length; a++) {
      for (let b = 0; b < all.length; b++) {
        const expected = inner(all[a]!, times(inverse, all[b]!));
        // Relative to the sizes of both columns: products of almost orthogonal columns are small differences.
        const scale = Math.sqrt(inner(all[a]!, times(inverse, all[a]!)) * inner(all[b]!, times(inverse, all[b]!)));
        expect(Math.abs(gram[a * all.length + b]! - expected), `${a}, ${b}`).toBeLessThan(CLOSE * scale);
      }
    }
  });

  it.each(noises)("%s: the logarithm of the determinant is the dense one", (_name, noise) => {
    const { logDeterminant } = invert(denseCovariance(timesS, readingCounts, noise));
    const found = whitenedProducts(sampled, rowMajor(all), all.length, noise).logDeterminant;
    expect(Math.abs(found - logDeterminant)).toBeLessThan(1e-5);
  });

  it("with fullCount, forms each later column's products with the earlier ones and itself alone", () => {
    const noise = noises[4]![1];
    const full = whitenedProducts(sampled, rowMajor(all), 4, noise).gram;
    const part = whitenedProducts(sampled, rowMajor(all), 4, noise, 2).gram;
    for (const at of [0, 1, 2, 3, 5, 6, 7, 10, 15]) expect(part[at]).toBeCloseTo(full[at]!, 9);
    expect(part[2 * 4 + 3]).toBe(0);
    expect(part[3 * 4 + 2]).toBe(0);
  });

  it("a reading that stands for k raw ones weighs as much as k of them at the same time", () => {
    const noise = noises[4]![1];
    const once = { timesS: Float64Array.of(0, 1, 2.5), readingCounts: Float64Array.of(1, 3, 2) };
    const apart = { timesS: Float64Array.of(0, 1, 1, 1, 2.5, 2.5), readingCounts: new Float64Array(6).fill(1) };
    const values = Float64Array.of(0.1, -0.3, 0.2);
    const spread = Float64Array.of(0.1, -0.3, -0.3, -0.3, 0.2, 0.2);
    const together = whitenedProducts(once, values, 1, noise).gram[0]!;
    const separate = whitenedProducts(apart, spread, 1, noise).gram[0]!;
    expect(Math.abs(separate / together - 1)).toBeLessThan(CLOSE);
  });

  it("does not hang on when the clock started", () => {
    const noise = noises[4]![1];
    const later = { timesS: timesS.map((t) => t + 1e6), readingCounts };
    const here = whitenedProducts(sampled, rowMajor(all), 4, noise);
    const there = whitenedProducts(later, rowMajor(all), 4, noise);
    // 1e6 s leave 1e-10 s of a time, of intervals of 0.05 s and more.
    for (let k = 0; k < 16; k++) expect(Math.abs(there.gram[k]! - here.gram[k]!)).toBeLessThan(1e-7 * here.gram[0]!);
  });
});
