import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { noiseOfMinutes, partOf } from "../../../src/core/detection/search-noise.js";
import { searchSeries } from "../../../src/core/detection/search-series.js";
import { readingsFromQuiet, statedReadings } from "../../../src/core/index.js";
import type { NoiseParameters } from "../../../src/core/noise/noise-parameters.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
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

describe("readingsFromQuiet() of a long recording", () => {
  it("is the noise of minutes, or the median of up to three long pieces where these wander more", () => {
    const wanderV2 = ({ walkVPerSqrtS, bendVPerS15 }: NoiseParameters) =>
      walkVPerSqrtS ** 2 * 10 + (bendVPerS15 ** 2 * 1000) / 3;
    let longer = 0;
    for (const [k, count] of [3000, 9000, 12_300, 21_000].entries()) {
      const timesS = Float64Array.from({ length: count }, (_, i) => i / 5);
      const parts = { ...NO_NOISE, whiteV: 0.02, walkVPerRtS: 0.003 };
      const noiseV = drawNoise(parts, timesS, null, randomStream(20 + k, "parts"));
      // The later, the louder: each piece has a noise of its own.
      const voltagesV = noiseV.map((v, i) => 24.5 + v * (1 + i / count));
      const design = new ReadingsDesign(searchSeries({ timesS, voltagesV }, null)!);
      const pieceCount = count < 6001 ? 1 : count < 12_001 ? 2 : 3;
      const logs = Array.from({ length: pieceCount }, (_, piece) => {
        const start = (piece * count) / pieceCount;
        const own = new ReadingsDesign(
          partOf(design.series, start, Math.min(start + 6000, start + count / pieceCount)),
        );
        return Array.from(fitNoise(own.explained([]), weakNoisePrior(own.scatterV, own.intervalS)).logs);
      });
      const middle = logs[0]!.map((_, part) => {
        const sorted = logs.map((piece) => piece[part]!).sort((a, b) => a - b);
        return pieceCount === 2 ? (sorted[0]! + sorted[1]!) / 2 : sorted[(pieceCount - 1) / 2]!;
      });
      const [whiteV, colouredV, colouredTimeS, walkVPerSqrtS, bendVPerS15] = middle.map(Math.exp);
      const long = { whiteV, colouredV, colouredTimeS, walkVPerSqrtS, bendVPerS15 } as NoiseParameters;
      const short = noiseOfMinutes(design);
      const { noise } = readingsFromQuiet({ timesS, voltagesV })!;
      const wanted = wanderV2(short) > wanderV2(long) ? short : long;
      if (wanted === long) longer += 1;
      for (const part of ["whiteV", "colouredV", "colouredTimeS", "walkVPerSqrtS", "bendVPerS15"] as const) {
        expect(noise[part] / wanted[part], `${count} readings, ${part}`).toBeCloseTo(1, 9);
      }
    }
    expect(longer).toBeGreaterThan(0);
  });
});

describe("statedReadings()", () => {
  it("takes the noise that is stated, ten readings a second where no interval is", () => {
    const readings = statedReadings(0.02, undefined)!;
    expect(readings).toMatchObject({ intervalS: 0.1, displayStepV: null, ownNoiseV: 0.02, from: "stated" });
    expect(statedReadings(0.02, undefined, { intervalS: 0.5, from: "history" })).toMatchObject({
      intervalS: 0.5,
      from: "history",
    });
    // All parts of the noise grow with it.
    const { noise } = statedReadings(0.04, undefined)!;
    expect(noise.whiteV / readings.noise.whiteV).toBeCloseTo(2, 9);
    expect(noise.walkVPerSqrtS / readings.noise.walkVPerSqrtS).toBeCloseTo(2, 9);
  });

  it("else a tenth of the meter's division; null where neither is known", () => {
    const meter = { smallestDivisionV: 0.5 };
    const byDivision = statedReadings(null, meter)!;
    expect(byDivision).toMatchObject({ ownNoiseV: 0.05, from: "division" });
    expect(byDivision.noise).toEqual(statedReadings(0.05, undefined)!.noise);
    expect(statedReadings(0.02, meter)).toMatchObject({ ownNoiseV: 0.02, from: "stated" });
    expect(statedReadings(null, {})).toBeNull();
    expect(statedReadings(null, undefined)).toBeNull();
  });
});

describe("readingsFromQuiet() of too little", () => {
  const timesS = (count: number) => Float64Array.from({ length: count }, (_, i) => i / 5);
  const noisy = (count: number) => {
    const stream = randomStream(4, "few");
    const noiseV = drawNoise({ ...NO_NOISE, whiteV: 0.02 }, timesS(count), null, stream);
    return readingsFromQuiet({ timesS: timesS(count), voltagesV: noiseV.map((v) => v + 24) });
  };

  it("is null below fifty readings, and where the meter never moved", () => {
    expect(noisy(49)).toBeNull();
    expect(noisy(50)).toMatchObject({ from: "recording", displayStepV: null, intervalS: expect.closeTo(0.2, 9) });
    expect(readingsFromQuiet({ timesS: timesS(200), voltagesV: new Float64Array(200).fill(24) })).toBeNull();
  });
});
