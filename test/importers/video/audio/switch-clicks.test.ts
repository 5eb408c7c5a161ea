import { describe, expect, it } from "vitest";
import { switchClicks } from "../../../../src/importers/video/audio/switch-clicks.js";
import { addClick, inBandRms, noise, RATE_HZ, speech } from "./drawn-sounds.js";

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
