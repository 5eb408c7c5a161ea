import { type RandomSource, randomSource } from "../simulator/random-source.js";
import type { FootagePlan, SoundPlan } from "./footage-plan.js";

export const SAMPLE_RATE_HZ = 48_000;

/** The sound beside a clip, full scale 1: a click at every switching, in noise. */
export function switchSound(plan: FootagePlan, sound: SoundPlan): Float32Array {
  const random = randomSource(plan.seed + 1);
  const lengthS = plan.durationS + plan.timing.firstStampS - sound.startS;
  const samples = backgroundSound(sound, Math.ceil(lengthS * SAMPLE_RATE_HZ), random);
  for (const { onS, offS } of plan.bus.dips) {
    for (const timeS of [onS, offS]) addClick(samples, timeS - sound.startS, 10 ** (sound.clickDb / 20), random);
  }
  return samples;
}

/** Adds a click that begins at a time, between samples too: two damped tones and a burst of noise. */
export function addClick(samples: Float32Array, timeS: number, peak: number, random: RandomSource): void {
  const [lowHz, highHz] = [2200 + 1500 * random.uniform(), 5200 + 2000 * random.uniform()];
  const first = Math.ceil(timeS * SAMPLE_RATE_HZ);
  for (let k = Math.max(0, first); k < Math.min(samples.length, first + 0.03 * SAMPLE_RATE_HZ); k++) {
    const sinceS = k / SAMPLE_RATE_HZ - timeS;
    const tones =
      0.5 * Math.exp(-sinceS / 0.003) * Math.sin(2 * Math.PI * lowHz * sinceS) +
      0.4 * Math.exp(-sinceS / 0.0015) * Math.sin(2 * Math.PI * highHz * sinceS);
    samples[k]! += peak * (tones + 0.35 * Math.exp(-sinceS / 0.001) * random.normal());
  }
}

/** Noise of a cockpit of the wished loudness (root mean square). */
export function backgroundSound(
  sound: Pick<SoundPlan, "noise" | "noiseDb">,
  count: number,
  random: RandomSource,
): Float32Array {
  const samples = new Float32Array(count);
  let [brown, pink] = [0, 0];
  const syllable = syllables(random);
  for (let k = 0; k < count; k++) {
    const timeS = k / SAMPLE_RATE_HZ;
    const white = random.normal();
    brown = 0.985 * brown + white;
    pink = 0.9 * pink + white;
    let value = 0.12 * brown + 0.1 * pink + 0.06 * white;
    if (sound.noise === "fan") value += 0.25 * pink + 0.4 * Math.sin(2 * Math.PI * 400 * timeS);
    if (sound.noise === "engine") {
      const beat = 1 + 0.6 * Math.sin(2 * Math.PI * 38 * timeS);
      value = value * beat + 1.2 * Math.sin(2 * Math.PI * 76 * timeS) + 0.5 * Math.sin(2 * Math.PI * 152 * timeS + 1);
    }
    if (sound.noise === "voice") value += syllable(timeS, white);
    samples[k] = value;
  }
  let square = 0;
  for (const value of samples) square += value * value;
  const scale = 10 ** (sound.noiseDb / 20) / Math.sqrt(square / Math.max(1, count));
  for (let k = 0; k < count; k++) samples[k]! *= scale;
  return samples;
}

/** Speech-like sound: voiced syllables with harmonics, hisses, and plosive bursts, with pauses between. */
function syllables(random: RandomSource): (timeS: number, white: number) => number {
  let [startS, endS, kind, pitchHz] = [0, 0, 0, 120];
  return (timeS, white) => {
    if (timeS >= endS) {
      startS = timeS + (random.uniform() < 0.15 ? 0.6 : 0.04) * random.uniform();
      kind = random.uniform();
      endS = startS + (kind < 0.6 ? 0.12 + 0.2 * random.uniform() : kind < 0.85 ? 0.06 + 0.1 * random.uniform() : 0.03);
      pitchHz = 100 + 120 * random.uniform();
    }
    if (timeS < startS) return 0;
    const since = timeS - startS;
    const envelope = Math.sin((Math.PI * since) / Math.max(0.02, endS - startS)) ** 2;
    if (kind < 0.6) {
      let value = 0;
      for (let k = 1; k <= 24; k++) value += Math.sin(2 * Math.PI * pitchHz * k * since) / k;
      return 2 * envelope * value;
    }
    if (kind < 0.85) return 1.2 * envelope * white;
    return 2.5 * Math.exp(-since / 0.012) * (1 - Math.exp(-since / 0.003)) * white;
  };
}
