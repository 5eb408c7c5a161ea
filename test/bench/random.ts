/**
 * Seeded random numbers for the benches, apart from anything the product uses.
 *
 * Small fast counter generator `sfc32` (public domain, PractRand 0.93); normals by the polar method
 * (G. Marsaglia, T. A. Bray, 1964, SIAM Review 6, 260-264).
 */
export interface RandomStream {
  /** Uniform on [0, 1), 32 bits. */
  readonly uniform: () => number;
  /** Standard normal. */
  readonly normal: () => number;
  /** Uniform between two bounds; the bound itself where they are equal. */
  readonly between: (range: Range) => number;
  /** Uniform integer, both ends included. */
  readonly integer: (range: Range) => number;
}

export type Range = readonly [low: number, high: number];

/** A stream that depends on the seed and on the words, so that every purpose draws its own numbers. */
export function randomStream(seed: number, ...words: readonly string[]): RandomStream {
  const uniform = smallFastCounter(mixSeed(seed, words.join("/")));
  let spare: number | null = null;
  const normal = () => {
    if (spare !== null) {
      const kept = spare;
      spare = null;
      return kept;
    }
    for (;;) {
      const x = 2 * uniform() - 1;
      const y = 2 * uniform() - 1;
      const square = x * x + y * y;
      if (square > 0 && square < 1) {
        const scale = Math.sqrt((-2 * Math.log(square)) / square);
        spare = y * scale;
        return x * scale;
      }
    }
  };
  return {
    uniform,
    normal,
    between: ([low, high]) => low + (high - low) * uniform(),
    integer: ([low, high]) => low + Math.floor((high - low + 1) * uniform()),
  };
}

/** FNV-1a over the words, then the bits of the seed. */
function mixSeed(seed: number, words: string): readonly [number, number, number] {
  let hash = 0x811c9dc5;
  for (let index = 0; index < words.length; index++) {
    hash = Math.imul(hash ^ words.charCodeAt(index), 0x01000193);
  }
  return [hash | 0, seed | 0, Math.floor(seed / 2 ** 32) | 0];
}

function smallFastCounter([a0, b0, c0]: readonly [number, number, number]): () => number {
  let a = a0;
  let b = b0;
  let c = c0;
  let counter = 1;
  const next = () => {
    const result = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + result) | 0;
    return (result >>> 0) / 2 ** 32;
  };
  for (let round = 0; round < 16; round++) next();
  return next;
}
