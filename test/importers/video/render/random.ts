/** A seeded stream of normal deviates (xorshift and Box-Muller), for rendered noise only. */
export function normalDeviates(seed: number): () => number {
  let state = (seed * 2654435761 + 88675123) >>> 0 || 1;
  const uniform = () => {
    state ^= state << 13;
    state >>>= 0;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return (state + 0.5) / 4294967296;
  };
  let spare: number | null = null;
  return () => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(uniform()));
    const turn = 2 * Math.PI * uniform();
    spare = radius * Math.sin(turn);
    return radius * Math.cos(turn);
  };
}

/** A sum of sines with 1/f amplitude between two frequencies: a hand's shake, rms 1. */
export function handShake(seed: number, lowHz = 0.12, highHz = 12, count = 40): (timeS: number) => number {
  const normal = normalDeviates(seed);
  const waves = Array.from({ length: count }, (_, index) => {
    const hz = lowHz * (highHz / lowHz) ** ((index + 0.5) / count);
    return { hz, sine: normal() / Math.sqrt(hz), cosine: normal() / Math.sqrt(hz) };
  });
  const power = waves.reduce((sum, wave) => sum + (wave.sine ** 2 + wave.cosine ** 2) / 2, 0);
  const scale = 1 / Math.sqrt(power);
  return (timeS) =>
    scale *
    waves.reduce(
      (sum, wave) =>
        sum +
        wave.sine * Math.sin(2 * Math.PI * wave.hz * timeS) +
        wave.cosine * Math.cos(2 * Math.PI * wave.hz * timeS),
      0,
    );
}
