import { logarithm } from "./portable-exponential.js";

/** A seeded source of random numbers; passed in wherever the core draws, so that a result can be had again. */
export interface RandomGenerator {
  /** Uniform on the open interval (0, 1), 53 bits. */
  uniform(): number;
  /** Standard normal. */
  normal(): number;
}

/**
 * A generator that yields the same sequence for the same seed (an integer, taken modulo 2^32), everywhere.
 *
 * Source: xoshiro128** 1.1 of Blackman & Vigna (ACM Trans. Math. Softw. 47, 2021), seeded by splitmix32; normal
 * variables by Marsaglia's polar method (SIAM Rev. 6, 1964).
 */
export function randomGenerator(seed: number): RandomGenerator {
  const bits = xoshiro128StarStar(splitMix(seed));
  let spare = Number.NaN;
  const uniform = () => {
    const high = bits() >>> 6;
    const low = bits() >>> 5;
    return (high * 134217728 + low + 0.5) / 9007199254740992;
  };
  return {
    uniform,
    normal() {
      if (!Number.isNaN(spare)) {
        const kept = spare;
        spare = Number.NaN;
        return kept;
      }
      for (;;) {
        const u = 2 * uniform() - 1;
        const v = 2 * uniform() - 1;
        const square = u * u + v * v;
        if (square >= 1 || square === 0) continue;
        const factor = Math.sqrt((-2 * logarithm(square)) / square);
        spare = v * factor;
        return u * factor;
      }
    },
  };
}

/** The bare generator: 32-bit unsigned integers from four 32-bit words of state, which must not all be zero. */
export function xoshiro128StarStar(state: readonly [number, number, number, number]): () => number {
  let [a, b, c, d] = state;
  return () => {
    const product = Math.imul(b, 5);
    const result = Math.imul((product << 7) | (product >>> 25), 9) >>> 0;
    const shifted = b << 9;
    c ^= a;
    d ^= b;
    b ^= c;
    a ^= d;
    c ^= shifted;
    d = (d << 11) | (d >>> 21);
    return result;
  };
}

function splitMix(seed: number): [number, number, number, number] {
  let state = seed | 0;
  const next = () => {
    state = (state + 0x9e3779b9) | 0;
    let mixed = Math.imul(state ^ (state >>> 16), 0x85ebca6b);
    mixed = Math.imul(mixed ^ (mixed >>> 13), 0xc2b2ae35);
    return mixed ^ (mixed >>> 16);
  };
  return [next(), next(), next(), next()];
}
