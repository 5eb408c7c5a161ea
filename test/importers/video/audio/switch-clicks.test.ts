import { describe, expect, it } from "vitest";
import { switchClicks } from "../../../../src/importers/video/audio/switch-clicks.js";
import { normalDeviates } from "../render/random.js";

const RATE_HZ = 48_000;

/** White noise with a part that falls with frequency. */
function noise(seconds: number, seed: number, level = 0.02): Float32Array {
  const normal = normalDeviates(seed);
  let slow = 0;
  return Float32Array.from({ length: seconds * RATE_HZ }, () => {
    slow = 0.97 * slow + normal();
    return level * (0.3 * slow + normal());
  });
}

/** Root mean square above 2.5 kHz of that white part: the band is 0.896 of all frequencies. */
const inBandRms = (level: number) => level * Math.sqrt(0.896);

function addClick(samples: Float32Array, timeS: number, peak: number): void {
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
function speech(seconds: number, seed: number): Float32Array {
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

describe("switchClicks", () => {
  it("finds 16 of 16 clicks whose peak is 15 dB over the noise in their band, each within 1 ms, and nothing else", () => {
    const samples = noise(18, 5);
    const truthS = Array.from({ length: 16 }, (_, k) => 1 + 1.0371 * k);
    for (const timeS of truthS) addClick(samples, timeS, inBandRms(0.02) * 10 ** (15 / 20));
    const clicks = switchClicks({ sampleRateHz: RATE_HZ, startS: -0.021, samples });
    expect(clicks.map(({ timeS }) => timeS + 0.021)).toHaveLength(16);
    clicks.forEach(({ timeS }, k) => {
      expect(Math.abs(timeS + 0.021 - truthS[k]!)).toBeLessThan(0.001);
    });
  });

  it("invents none in steady noise, in speech-like sound, in silence and in a sound too short to judge", () => {
    expect(switchClicks({ sampleRateHz: RATE_HZ, startS: 0, samples: noise(60, 11) })).toEqual([]);
    expect(switchClicks({ sampleRateHz: RATE_HZ, startS: 0, samples: speech(60, 12) })).toEqual([]);
    expect(switchClicks({ sampleRateHz: RATE_HZ, startS: 0, samples: new Float32Array(3 * RATE_HZ) })).toEqual([]);
    expect(switchClicks({ sampleRateHz: RATE_HZ, startS: 0, samples: new Float32Array(100) })).toEqual([]);
  });

  it("states a strength that rises with the click by as many decibels", () => {
    const strength = (db: number) => {
      const samples = noise(4, 21);
      addClick(samples, 2, inBandRms(0.02) * 10 ** (db / 20));
      return switchClicks({ sampleRateHz: RATE_HZ, startS: 0, samples })[0]!.strengthDb;
    };
    expect(strength(40) - strength(30)).toBeGreaterThan(9);
    expect(strength(40) - strength(30)).toBeLessThan(11);
  });
});
