import { describe, expect, it } from "vitest";
import { readingsFromQuiet } from "../../../src/core/index.js";
import { drawNoise, NO_NOISE } from "../../bench/noise.js";
import { randomStream } from "../../bench/random.js";

/** Fifteen minutes of quiet at 5 Hz. */
function quiet(walkVPerRtS: number, seed: number) {
  const timesS = Float64Array.from({ length: 4500 }, (_, i) => i / 5);
  const parts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.02, walkVPerRtS };
  const noiseV = drawNoise(parts, timesS, null, randomStream(seed, "quiet"));
  return readingsFromQuiet({ timesS, voltagesV: noiseV.map((v) => v + 24.5) })!.noise;
}

describe("readingsFromQuiet()", () => {
  // A walk of 6 mV per root second moves the level by 19 mV in 10 s, and its size is known within some 15 % after 900 s.
  it("readingsFromQuiet() tells how far the level wanders in ten seconds, and that a still one wanders far less", () => {
    const wanderV = ({ walkVPerSqrtS, bendVPerS15 }: ReturnType<typeof quiet>) =>
      Math.hypot(walkVPerSqrtS * Math.sqrt(10), (bendVPerS15 * 10 ** 1.5) / Math.sqrt(3));
    for (const seed of [1, 2, 3]) {
      expect(wanderV(quiet(0.006, seed)) / (0.006 * Math.sqrt(10)), `seed ${seed}`).toBeGreaterThan(0.6);
      expect(wanderV(quiet(0.006, seed)) / (0.006 * Math.sqrt(10)), `seed ${seed}`).toBeLessThan(1.6);
      expect(wanderV(quiet(0, seed)), `seed ${seed}`).toBeLessThan(0.4 * 0.006 * Math.sqrt(10));
    }
  });
});
