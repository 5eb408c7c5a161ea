import { describe, expect, it } from "vitest";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { mixtureMoments, mixtureQuantile } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { fallOf, type NoiseKind, noiseKinds, noisySeries } from "./noise-kinds.js";

const switchings = [
  [8, 13],
  [18, 23],
  [28, 33],
] as const;
const onTimes = switchings.map(([onsetS, releaseS]) => ({ onsetS, releaseS }));

function respond(kind: NoiseKind, seed: number, depthV: number): MarkedResponse {
  const fall = fallOf(switchings);
  const series = noisySeries(kind, { seed, rateHz: 5, durationS: 40, fallV: (t) => depthV * fall(t) });
  const load = { id: "probe", onTimes, kind: "resistive", timeUncertaintyS: 0.1 } as const;
  return detectMarked(series, [load], { meter: { lagS: 0.2 }, random: randomGenerator(seed) }).responses[0]!;
}

describe("detectMarked() of loads that draw nothing", () => {
  const perKind = 60;
  const pValues = noiseKinds.map((kind, k) =>
    Array.from({ length: perKind }, (_, i) => {
      const { distribution, score } = respond(kind, 1000 * (k + 1) + i, 0);
      return distribution.pValue(score);
    }),
  );

  // Four standard deviations of the binomial share either way, but for the rarest, whose bound has a chance of 1e-3.
  it.each([
    [0.01, 0, 9],
    [0.05, 1, 26],
    [0.25, 33, 87],
    [0.5, 89, 151],
  ])("240 short recordings: p-values at or below %d number %d to %d", (limit, least, most) => {
    const count = pValues.flat().filter((p) => p <= limit).length;
    expect(count).toBeGreaterThanOrEqual(least);
    expect(count).toBeLessThanOrEqual(most);
  });

  it("no kind of noise has more than its share of small p-values", () => {
    // 60 at 10 %: more than 16 have a chance of 2e-4 each.
    noiseKinds.forEach(({ name }, k) => {
      expect(pValues[k]!.filter((p) => p <= 0.1).length, name).toBeLessThanOrEqual(16);
    });
  });
});

describe("detectMarked() of loads that draw", () => {
  const depthV = 0.12;
  const found = noiseKinds.flatMap((kind, k) =>
    Array.from({ length: 20 }, (_, i) => respond(kind, 9000 + 100 * k + i, depthV).depth),
  );

  it("the 95 % interval holds the true depth in 95 % of 80 short recordings", () => {
    const covered = found.filter(
      (one) => mixtureQuantile(one, 0.025) <= depthV && depthV <= mixtureQuantile(one, 0.975),
    );
    // Binomial: fewer than 69 have a chance of 5e-4.
    expect(covered.length).toBeGreaterThanOrEqual(69);
  });

  it("the errors have the size that the standard uncertainty states", () => {
    const scores = found.map((one) => {
      const { mean, sd } = mixtureMoments(one);
      return (mean - depthV) / sd;
    });
    const rms = Math.sqrt(scores.reduce((sum, z) => sum + z * z, 0) / scores.length);
    // Four standard deviations of the rms of 80 scores are 0.32 above; the shape's share errs on the wide side.
    expect(rms).toBeGreaterThan(0.6);
    expect(rms).toBeLessThan(1.32);
  });

  it("a dip of many uncertainties is beyond doubt", () => {
    const { distribution, score } = respond(noiseKinds[0]!, 1, depthV);
    expect(distribution.pValue(score)).toBeLessThan(1e-6);
  });
});

describe("detectMarked()", () => {
  it("scales with the volts: the score and its p-value stay", () => {
    const kind = noiseKinds[1]!;
    const triple = { ...kind, whiteV: 3 * kind.whiteV, colouredV: 3 * kind.colouredV };
    const fall = fallOf(switchings);
    const series = (each: NoiseKind, gain: number) => {
      const one = noisySeries(each, { seed: 5, rateHz: 5, durationS: 40, fallV: (t) => gain * 0.04 * fall(t) });
      // The relaxation of the battery is taken out, for it does not scale.
      return { ...one, valuesV: one.valuesV.map((v, i) => v + 0.2 * Math.exp(-one.timesS[i]! / 80)) };
    };
    const load = { id: "probe", onTimes, kind: "resistive", timeUncertaintyS: 0.1 } as const;
    const [one, three] = [series(kind, 1), series(triple, 3)].map(
      (each) => detectMarked(each, [load], { meter: { lagS: 0.2 }, random: randomGenerator(1) }).responses[0]!,
    );
    expect(Math.abs(three!.score - one!.score)).toBeLessThan(0.05);
    expect(Math.abs(mixtureMoments(three!.depth).mean / mixtureMoments(one!.depth).mean / 3 - 1)).toBeLessThan(0.02);
  });

  it("two loads of the same stretch get the response that each made", () => {
    const apart = [
      [8, 13],
      [28, 33],
    ] as const;
    const others = [
      [16, 21],
      [36, 41],
    ] as const;
    const [deep, faint] = [fallOf(apart), fallOf(others)];
    const series = noisySeries(noiseKinds[0]!, {
      seed: 3,
      rateHz: 5,
      durationS: 50,
      fallV: (t) => 0.5 * deep(t) + 0.1 * faint(t),
    });
    const times = (each: readonly (readonly [number, number])[]) =>
      each.map(([onsetS, releaseS]) => ({ onsetS, releaseS }));
    const loads = [
      { id: "deep", onTimes: times(apart), kind: "resistive", timeUncertaintyS: 0.1 },
      { id: "faint", onTimes: times(others), kind: "resistive", timeUncertaintyS: 0.1 },
    ] as const;
    const { responses } = detectMarked(series, loads, { meter: { lagS: 0.2 }, random: randomGenerator(1) });
    [0.5, 0.1].forEach((truth, k) => {
      const { mean, sd } = mixtureMoments(responses[k]!.depth);
      expect(Math.abs(mean - truth), loads[k]!.id).toBeLessThan(4 * sd);
      expect(sd).toBeLessThan(0.03);
    });
  });
});
