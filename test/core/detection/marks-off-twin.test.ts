import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { marksOffS } from "../../../src/core/detection/marks-off.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { UNKNOWN_LAGS } from "../../../src/core/detection/shape-bank.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { fromLogs } from "../../../src/core/noise/noise-parameters.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { denseCovariance, inner, invert, times } from "../../oracles/dense-noise.js";

const COUNT = 80;
const timesS = Float64Array.from({ length: COUNT }, (_, i) => 0.6 * i);
const ones = new Float64Array(COUNT).fill(1);
const moved = (onTimes: readonly OnTime[], lateS: number): OnTime[] =>
  onTimes.map(({ onsetS, releaseS }) => ({ onsetS: onsetS + lateS, releaseS: releaseS + lateS }));
const templateOf = (onTimes: readonly OnTime[], lagS: number) => dipTemplate(timesS, 0, onTimes, plainShape(lagS));

/** Readings with a load that may answer beside its marks, or not every time, and another load beside it. */
function drawnCase(seed: number) {
  const random = randomSource(seed);
  const between = (low: number, high: number) => low + (high - low) * random.uniform();
  const onTimes = [9, 20, 31].map((at) => {
    const onsetS = at + between(-1, 1);
    return { onsetS, releaseS: onsetS + between(3, 6) };
  });
  const other = [{ onsetS: 40, releaseS: 44 }];
  const lateS = random.uniform() < 0.3 ? 0 : between(-3, 3);
  const lagS = [0.08, 0.3, 0.7][Math.floor(3 * random.uniform())]!;
  const depthV = between(0.01, random.uniform() < 0.7 ? 0.045 : 0.3);
  const lastShare = random.uniform() < 0.6 ? 1 : between(0, 0.7);
  const seen = moved(onTimes, lateS).map((onTime, k) => ({
    template: templateOf([onTime], lagS),
    sizeV: (k === 2 ? lastShare : 1) * depthV,
  }));
  const parts = [...seen, { template: templateOf(other, 0.3), sizeV: 0.08 }];
  // Wander that looks like dips in ordinary noise.
  const walkV = random.uniform() < 0.3 ? 0.04 : 0;
  let wanderedV = 0;
  const valuesV = timesS.map((t, i) => {
    wanderedV += walkV * random.normal();
    return (
      24 -
      0.0005 * t +
      wanderedV +
      parts.reduce((sum, part) => sum + part.sizeV * part.template[i]!, 0) +
      0.01 * random.normal()
    );
  });
  const design = new ReadingsDesign({
    timesS,
    valuesV,
    readingCounts: ones,
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.01,
    medianIntervalS: 0.6,
  });
  const shape = { ...plainShape(0.3), inrush: 0.4 };
  const beside = {
    template: templateOf(other, 0.3),
    leftovers: random.uniform() < 0.5 ? [] : [templateOf(moved(other, 1), 0.3)],
  };
  const refined = random.uniform() < 0.5 ? null : { onTimes: moved(onTimes, between(-1.5, 1.5)) };
  const response = {
    onTimes,
    shape,
    refined,
    template: templateOf(onTimes, 0.3),
    leftovers: [],
  } as unknown as MarkedResponse;
  const others = [beside.template, ...beside.leftovers];
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const fit = fitNoise(design.explained([response.template, ...others]), prior);
  const responses = [beside, response];
  const detection = { design, prior, fit, responses } as unknown as MarkedDetection;
  const uS = [0.05, 0.17, 0.33, 0.74, 0.76][Math.floor(5 * random.uniform())]!;
  return { detection, response, others, uS, lagS: random.uniform() < 0.8 ? 0.3 : undefined };
}

/** Ordinary noise of readings that scatter by 10 mV. */
const { inverse } = invert(denseCovariance(timesS, ones, fromLogs(weakNoisePrior(0.01, 0.6).meanLogs)));

/** The rule, each shift by dense least squares. */
function byHand({ detection, response, others, uS, lagS }: ReturnType<typeof drawnCase>) {
  const { design, prior, fit } = detection;
  const allowedS = Math.max(0.5, 4 * uS);
  if (allowedS >= 3) return { offS: null, why: "not allowed" };
  const y = Array.from(design.series.valuesV, (v) => v - 24);
  const common = [Array.from(ones), Array.from(timesS, (t) => t / 50), ...others.map((one) => Array.from(one))];
  const weightedCommon = common.map((column) => times(inverse, column));
  const fitted = (columns: readonly (readonly number[])[]) => {
    const all = [...common, ...columns];
    const weighted = [...weightedCommon, ...columns.map((column) => times(inverse, column))];
    const { inverse: own } = invert(weighted.map((row) => all.map((column) => inner(row, column))));
    const estimates = times(
      own,
      weighted.map((row) => inner(row, y)),
    );
    return columns.map((_, k) => {
      const at = common.length + k;
      return { sizeV: estimates[at]!, score: estimates[at]! / Math.sqrt(own[at]![at]!) };
    });
  };
  const lags = lagS === undefined ? UNKNOWN_LAGS.map(({ value }) => value) : [lagS];
  const tried = lags.flatMap((lag) =>
    Array.from({ length: 31 }, (_, k) => {
      const lateS = (k - 15) / 5;
      const [one] = fitted([Array.from(templateOf(moved(response.onTimes, lateS), lag))]);
      return { lateS, lag, ...one! };
    }),
  );
  const best = tried.reduce((most, one) => (one.score > most.score ? one : most));
  const within = Math.max(0, ...tried.filter(({ lateS }) => Math.abs(lateS) <= allowedS).map(({ score }) => score));
  const lost = best.score ** 2 - within ** 2;
  if (!(best.score > 6 && lost > 0.05 * best.score ** 2 && lost > 18)) return { offS: null, why: "not clear" };
  const each = fitted(response.onTimes.map((one) => Array.from(templateOf(moved([one], best.lateS), best.lag))));
  if (each.some(({ sizeV }) => sizeV <= best.sizeV / 2)) return { offS: null, why: "not each" };
  if (response.refined !== null) {
    const late = response.refined.onTimes.flatMap(({ onsetS, releaseS }, k) => [
      onsetS - response.onTimes[k]!.onsetS,
      releaseS - response.onTimes[k]!.releaseS,
    ]);
    if (Math.abs(late.reduce((sum, one) => sum + one, 0) / late.length) > allowedS)
      return { offS: best.lateS, why: "fitted off" };
  }
  const objectives = [plainShape(best.lag), response.shape].map((shape) => {
    const dip = dipTemplate(timesS, 0, response.onTimes, { ...shape, shiftS: best.lateS });
    return fitNoise(design.explained([dip, ...others]), prior, fit.logs).objective;
  });
  const isLikelier = fit.objective - Math.min(...objectives) > 15;
  return { offS: isLikelier ? best.lateS : null, why: isLikelier ? "likelier" : "not likelier" };
}

describe("marksOffS() beside every shift judged by dense least squares", () => {
  it("says the same of loads that answer beside their marks, at them, or not every time", () => {
    const seen = new Map<string, number>();
    for (let seed = 1; seed <= 240; seed++) {
      const one = drawnCase(seed);
      const { offS, why } = byHand(one);
      const found = marksOffS(one.detection, one.response, one.uS, one.lagS);
      if (offS === null) expect(found, `seed ${seed}: ${why}`).toBeNull();
      else expect(found, `seed ${seed}: ${why}`).toBeCloseTo(offS, 9);
      seen.set(why, (seen.get(why) ?? 0) + 1);
    }
    for (const why of ["not allowed", "not clear", "not each", "fitted off", "likelier", "not likelier"]) {
      expect(seen.get(why), why).toBeGreaterThan(2);
    }
  });
});
