/** A repeatable source of random numbers: the same seed gives the same numbers on every machine. */
export interface RandomSource {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Normal with mean 0 and standard deviation 1. */
  normal(): number;
}

/**
 * A random source from a whole-number seed.
 *
 * Uniform numbers: a counter stepped by an odd constant and mixed by the 32-bit finalizer of MurmurHash3 (public
 * domain). Normal numbers: Box and Muller, Annals of Mathematical Statistics 29 (1958), p. 610.
 */
export function randomSource(seed: number): RandomSource {
  let counter = seed >>> 0;
  let spare: number | null = null;

  function bits32(): number {
    counter = (counter + 0x9e3779b9) >>> 0;
    let mixed = counter;
    mixed = Math.imul(mixed ^ (mixed >>> 16), 0x85ebca6b);
    mixed = Math.imul(mixed ^ (mixed >>> 13), 0xc2b2ae35);
    return (mixed ^ (mixed >>> 16)) >>> 0;
  }

  function uniform(): number {
    return ((bits32() >>> 5) * 67108864 + (bits32() >>> 6)) / 9007199254740992;
  }

  function normal(): number {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - uniform()));
    const angle = 2 * Math.PI * uniform();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  }

  return { uniform, normal };
}
