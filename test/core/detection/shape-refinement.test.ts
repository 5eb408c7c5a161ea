import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { type RefinedDepth, refineDepth } from "../../../src/core/detection/shape-refinement.js";
import { type DipShape, dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";

const truth: DipShape = { shiftS: 0, lagS: 0.3, inrush: 0.5, settleS: 2.2, polarization: 0.3, polarizationS: 18 };
const marked = [
  { onsetS: 12, releaseS: 17 },
  { onsetS: 22, releaseS: 27 },
  { onsetS: 32, releaseS: 37 },
];
const offsetsS = [0.12, -0.08, 0.05, 0.1, -0.15, 0.07];
const onTimes = marked.map(({ onsetS, releaseS }, k) => ({
  onsetS: onsetS + offsetsS[2 * k]!,
  releaseS: releaseS + offsetsS[2 * k + 1]!,
}));
const noise = { whiteV: 0.004, colouredV: 0.002, colouredTimeS: 0.5, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
const DEPTH_V = 0.2;

function refined(seed: number, gain = 1): RefinedDepth {
  const random = randomSource(seed);
  const timesS = Float64Array.from({ length: 480 }, (_, i) => 0.1 * i);
  const dips = dipTemplate(timesS, 0, onTimes, truth);
  const decay = Math.exp(-0.1 / noise.colouredTimeS);
  let colouredV = noise.colouredV * random.normal();
  const valuesV = timesS.map((t, i) => {
    colouredV = decay * colouredV + Math.sqrt(1 - decay ** 2) * noise.colouredV * random.normal();
    return 24 + gain * (0.001 * t + DEPTH_V * dips[i]! + colouredV + noise.whiteV * random.normal());
  });
  const sampled = {
    timesS,
    valuesV,
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.004,
    medianIntervalS: 0.1,
  };
  const scaled = { ...noise, whiteV: gain * noise.whiteV, colouredV: gain * noise.colouredV };
  const problem = { sampled, blockS: 0, ...new ReadingsDesign(sampled).columns([]), noise: scaled, onTimes: marked };
  const start = { ...truth, lagS: 0.7, inrush: 0, polarization: 0, settleS: 3, polarizationS: 20 };
  return refineDepth(
    { ...problem, kind: "heater", meter: undefined, timeUncertaintyS: 0.2 },
    { shape: start, depthV: 0.25 * gain },
  );
}

describe("refineDepth()", () => {
  const all = Array.from({ length: 200 }, (_, k) => refined(k + 1));

  it("finds each switching time that the mark missed, within its own uncertainty", () => {
    const chi = offsetsS.map((offsetS, k) => {
      const errors = all.map(({ onTimes: found, uTimesS }) => {
        const one = found[k >> 1]!;
        const foundS = k % 2 === 0 ? one.onsetS - marked[k >> 1]!.onsetS : one.releaseS - marked[k >> 1]!.releaseS;
        return (foundS - offsetS) / uTimesS[k]!;
      });
      return Math.sqrt(errors.reduce((sum, z) => sum + z * z, 0) / errors.length);
    });
    // 1,200 scores: four standard deviations of their rms are 4 / sqrt(2400) = 0.08.
    const rms = Math.sqrt(chi.reduce((sum, c) => sum + c * c, 0) / chi.length);
    expect(rms).toBeGreaterThan(0.92);
    expect(rms).toBeLessThan(1.08);
    for (const { uTimesS } of all) for (const u of uTimesS) expect(u).toBeLessThan(0.06);
  });

  it("states an uncertainty of the depth that its errors over many recordings have", () => {
    const scores = all.map(({ depthV, uDepthV }) => (depthV - DEPTH_V) / uDepthV);
    const rms = Math.sqrt(scores.reduce((sum, z) => sum + z * z, 0) / scores.length);
    // Three and a half standard deviations of the rms of 200 scores; the prior is centred near the truth and helps a little.
    expect(rms).toBeGreaterThan(0.82);
    expect(rms).toBeLessThan(1.175);
    const mean = scores.reduce((sum, z) => sum + z, 0) / scores.length;
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(200));
  });

  it("finds lag and inrush that it did not start from", () => {
    const mean = (value: (one: RefinedDepth) => number) => all.reduce((sum, one) => sum + value(one), 0) / all.length;
    expect(Math.abs(mean(({ shape }) => shape.lagS) - truth.lagS)).toBeLessThan(0.03);
    expect(Math.abs(mean(({ shape }) => shape.inrush) - truth.inrush)).toBeLessThan(0.1);
    const z = all.map(({ shape, uInrush }) => (shape.inrush - truth.inrush) / uInrush);
    expect(Math.sqrt(z.reduce((sum, one) => sum + one * one, 0) / z.length)).toBeLessThan(1.175);
  });

  it("never states less than the reading noise alone leaves", () => {
    for (const { uDepthV, uNoiseV } of all) expect(uDepthV).toBeGreaterThan(uNoiseV);
  });

  it("scales with the readings", () => {
    const [one, three] = [refined(7), refined(7, 3)];
    expect(Math.abs(three.depthV / one.depthV / 3 - 1)).toBeLessThan(1e-3);
    expect(Math.abs(three.uDepthV / one.uDepthV / 3 - 1)).toBeLessThan(1e-2);
    expect(Math.abs(three.shape.lagS / one.shape.lagS - 1)).toBeLessThan(1e-2);
  });
});

describe("refineDepth() through a needle that swings", () => {
  const needle = { ...truth, lagS: 1 / (2 * Math.PI * 1.2), dampingRatio: 0.55, inrush: 0, polarization: 0.1 };

  function read(
    seed: number,
    shape: DipShape,
    { startS = 0, intervalS = 0.05, from = {} }: { startS?: number; intervalS?: number; from?: Partial<DipShape> } = {},
  ): RefinedDepth {
    const moved = (times: readonly OnTime[]) =>
      times.map(({ onsetS, releaseS }) => ({ onsetS: startS + onsetS, releaseS: startS + releaseS }));
    const random = randomSource(seed);
    const timesS = Float64Array.from({ length: Math.round(48 / intervalS) }, (_, i) => startS + intervalS * i);
    const dips = dipTemplate(timesS, 0, moved(onTimes), shape);
    const valuesV = timesS.map((t, i) => 24 + 0.001 * (t - startS) + DEPTH_V * dips[i]! + 0.004 * random.normal());
    const sampled = {
      timesS,
      valuesV,
      readingCounts: new Float64Array(timesS.length).fill(1),
      blockS: 0,
      outlierCount: 0,
      readingScatterV: 0.004,
      medianIntervalS: intervalS,
    };
    const white = { whiteV: 0.004, colouredV: 1e-5, colouredTimeS: 0.5, walkVPerSqrtS: 1e-5, bendVPerS15: 1e-6 };
    const problem = { sampled, blockS: 0, ...new ReadingsDesign(sampled).columns([]), noise: white };
    const start = { ...truth, lagS: 0.3, inrush: 0, polarization: 0.1, settleS: 3, polarizationS: 20, ...from };
    const times = { onTimes: moved(marked), timeUncertaintyS: 0.2 };
    const told = { ...problem, ...times, kind: "resistive" as const, meter: undefined };
    return refineDepth(told, { shape: start, depthV: DEPTH_V });
  }

  it("finds the swing, its frequency and its damping within 10 %", () => {
    for (let seed = 1; seed <= 10; seed++) {
      const { shape } = read(seed, needle);
      expect(shape.dampingRatio, `seed ${seed}`).toBeDefined();
      expect(Math.abs(Math.log(shape.dampingRatio! / 0.55)), `seed ${seed}`).toBeLessThan(0.1);
      expect(Math.abs(Math.log(shape.lagS / needle.lagS))).toBeLessThan(0.1);
    }
  });

  it("looks for a swing in readings up to 0.15 s apart, and in others only where an earlier fit had one", () => {
    const slow = { ...needle, lagS: 1 / (2 * Math.PI * 0.5), dampingRatio: 0.4 };
    for (let seed = 1; seed <= 3; seed++) {
      expect(read(seed, slow, { intervalS: 0.14 }).shape.dampingRatio, `seed ${seed}`).toBeDefined();
      expect(read(seed, slow, { intervalS: 0.16 }).shape.dampingRatio, `seed ${seed}`).toBeUndefined();
      const again = read(seed, slow, { intervalS: 0.16, from: { dampingRatio: 0.5 } });
      expect(Math.abs(Math.log(again.shape.dampingRatio! / 0.4)), `seed ${seed}`).toBeLessThan(0.1);
    }
  });

  it("does not hang on when the clock began", () => {
    const [plain, later] = [0, 4096].map((startS) => read(11, needle, { startS }));
    expect(later!.shape.dampingRatio).toBeCloseTo(plain!.shape.dampingRatio!, 5);
    expect(later!.shape.lagS).toBeCloseTo(plain!.shape.lagS, 6);
    expect(later!.depthV).toBeCloseTo(plain!.depthV, 6);
    expect(later!.uDepthV).toBeCloseTo(plain!.uDepthV, 6);
  });

  it("leaves a needle that creeps creeping, but for 1 in 100", () => {
    let swinging = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const { shape } = read(seed, { ...truth, inrush: 0, polarization: 0.1 });
      if (shape.dampingRatio !== undefined) swinging += 1;
    }
    // Four ratios at 0.1 %; three or more of 40 by chance: below 0.1 %.
    expect(swinging).toBeLessThanOrEqual(2);
  });

  it("lets go of a swing that an earlier fit had where it cannot be told from creeping, but for 1 in 100", () => {
    let swinging = 0;
    for (let seed = 1; seed <= 10; seed++) {
      // A lag below the time between readings: either needle has all but come to rest at the next one.
      const quick = { ...truth, lagS: 0.05, inrush: 0, polarization: 0.1 };
      const { shape } = read(seed, quick, { intervalS: 0.16, from: { lagS: 0.05, dampingRatio: 0.5 } });
      if (shape.dampingRatio !== undefined) swinging += 1;
    }
    // Five starts at 0.1 %; two or more of 10 by chance: 0.1 %.
    expect(swinging).toBeLessThanOrEqual(1);
  });

  it("tells the depth of a swinging needle as well as that of a creeping one", () => {
    const scores = Array.from({ length: 30 }, (_, k) => {
      const { depthV, uDepthV } = read(100 + k, needle);
      return (depthV - DEPTH_V) / uDepthV;
    });
    const rms = Math.sqrt(scores.reduce((sum, z) => sum + z * z, 0) / scores.length);
    // Four standard deviations of the rms of 30 scores above 1; below 1, since the prior of the shape is wider than this.
    expect(rms).toBeLessThan(1.52);
  });
});
