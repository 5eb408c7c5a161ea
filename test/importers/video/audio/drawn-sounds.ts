import { normalDeviates } from "../render/random.js";

export const RATE_HZ = 48_000;

/** White noise with a part that falls with frequency. */
export function noise(seconds: number, seed: number, level = 0.02): Float32Array {
  const normal = normalDeviates(seed);
  let slow = 0;
  return Float32Array.from({ length: seconds * RATE_HZ }, () => {
    slow = 0.97 * slow + normal();
    return level * (0.3 * slow + normal());
  });
}

/** Root mean square above 2.5 kHz of that white part: the band is 0.896 of all frequencies. */
export const inBandRms = (level: number) => level * Math.sqrt(0.896);

export function addClick(samples: Float32Array, timeS: number, peak: number): void {
  const first = Math.ceil(timeS * RATE_HZ);
  for (let k = first; k < first + 0.02 * RATE_HZ; k++) {
    const sinceS = k / RATE_HZ - timeS;
    samples[k]! +=
      peak *
      (0.6 * Math.exp(-sinceS / 0.003) * Math.cos(2 * Math.PI * 3100 * sinceS) +
        0.4 * Math.exp(-sinceS / 0.0015) * Math.cos(2 * Math.PI * 6300 * sinceS));
  }
}

/** Speech-like: vowels of a sawtooth, hisses, and stops that burst within 3 ms and die away over 12 ms. */
export function speech(seconds: number, seed: number): Float32Array {
  const normal = normalDeviates(seed);
  const samples = noise(seconds, seed + 1, 0.002);
  for (let startS = 0.2; startS < seconds - 0.5; ) {
    const kind = Math.abs(normal());
    const lengthS = kind > 1.2 ? 0.05 : 0.12 + 0.05 * Math.abs(normal());
    const pitchHz = 120 + 20 * normal();
    for (let k = 0; k < lengthS * RATE_HZ; k++) {
      const sinceS = k / RATE_HZ;
      const swell = Math.sin((Math.PI * sinceS) / lengthS) ** 2;
      const value =
        kind > 1.2
          ? Math.exp(-sinceS / 0.012) * (1 - Math.exp(-sinceS / 0.003)) * normal()
          : kind > 0.7
            ? 0.5 * swell * normal()
            : swell * (((sinceS * pitchHz) % 1) - 0.5);
      samples[Math.round(startS * RATE_HZ) + k]! += 0.1 * value;
    }
    startS += lengthS + 0.02 + 0.1 * Math.abs(normal());
  }
  return samples;
}
