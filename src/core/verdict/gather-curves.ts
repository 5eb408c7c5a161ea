import type { AnalysisCurves, CoherentAverage } from "../analysis.js";
import type { Detected, DetectedWindow } from "../detection/detect-in-windows.js";
import { firstAtOrAfter } from "../detection/switching-template.js";
import { squared } from "../statistics/portable-power.js";
import type { JudgedResponse } from "./judged-response.js";

/** Curves for figures: the judged stretches, and each load's dips averaged at their onset. */
export function gatherCurves(detected: Detected, judged: readonly JudgedResponse[]): AnalysisCurves {
  const parts = detected.windows.filter(({ single }) => single.joint !== null);
  return {
    timesS: joined(parts.map(({ detection }) => detection.design.series.timesS)),
    readingsV: joined(parts.map(({ detection }) => detection.design.series.valuesV)),
    modelV: joined(parts.map(({ single }) => single.joint!.modelV)),
    driftV: joined(parts.map(({ single }) => single.joint!.driftV)),
    coherent: parts.flatMap((part) => coherentAverages(part, judged)),
  };
}

function joined(arrays: readonly Float64Array[]): Float64Array {
  const out = new Float64Array(arrays.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const array of arrays) {
    out.set(array, at);
    at += array.length;
  }
  return out;
}

/** Points of an averaged dip, from a third of its length before the onset to a third after the release. */
const POINTS = 90;

function coherentAverages(window: DetectedWindow, judged: readonly JudgedResponse[]): CoherentAverage[] {
  const { timesS, valuesV } = window.detection.design.series;
  const { driftV, modelV } = window.single.joint!;
  return window.detection.responses.flatMap((response): CoherentAverage[] => {
    const own = judged.find((one) => one.response.id === response.id)?.dips ?? [];
    const dips = own.filter(({ onTime }) => onTime.releaseS > timesS[0] && onTime.onsetS < timesS[timesS.length - 1]);
    if (dips.length === 0) return [];
    const durationS = Math.min(...dips.map(({ onTime }) => onTime.releaseS - onTime.onsetS));
    const startS = -durationS / 2;
    const widthS = (2 * durationS) / POINTS;
    const average = emptyAverage(POINTS);
    for (const { onTime } of dips) {
      for (let i = firstAtOrAfter(timesS, onTime.onsetS + startS); i < timesS.length; i++) {
        const bin = Math.floor((timesS[i] - onTime.onsetS - startS) / widthS);
        if (bin >= POINTS) break;
        average.count[bin] += 1;
        average.sum[bin] += valuesV[i] - driftV[i];
        average.squares[bin] += squared(valuesV[i] - modelV[i]);
        average.model[bin] += modelV[i] - driftV[i];
      }
    }
    const filled = Array.from({ length: POINTS }, (_, k) => k).filter((k) => average.count[k] > 0);
    const total = average.squares.reduce((sum, v) => sum + v, 0) / average.count.reduce((sum, c) => sum + c, 0);
    return [
      {
        load: response.id,
        dipCount: dips.length,
        onTimes: dips.map(({ onTime: { onsetS, releaseS } }) => ({ onsetS, releaseS })),
        timesS: Float64Array.from(filled, (k) => startS + (k + 0.5) * widthS),
        meanV: Float64Array.from(filled, (k) => average.sum[k] / average.count[k]),
        // One scatter for all points: a handful of readings in each would make its own too rough.
        uMeanV: Float64Array.from(filled, (k) => Math.sqrt(total / average.count[k])),
        modelV: Float64Array.from(filled, (k) => average.model[k] / average.count[k]),
      },
    ];
  });
}

function emptyAverage(size: number) {
  return {
    count: new Float64Array(size),
    sum: new Float64Array(size),
    squares: new Float64Array(size),
    model: new Float64Array(size),
  };
}
