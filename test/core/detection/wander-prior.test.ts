import { describe, expect, it } from "vitest";
import type { AnalysisWindow } from "../../../src/core/detection/analysis-window.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { searchNoise } from "../../../src/core/detection/search-noise.js";
import { searchSeries } from "../../../src/core/detection/search-series.js";
import { dipTemplate } from "../../../src/core/detection/switching-template.js";
import { wholeRecordingNoise, windowPrior } from "../../../src/core/detection/wander-prior.js";
import { noisySeries } from "./noise-kinds.js";

const calm = { name: "white", whiteV: 0.03, colouredV: 0, walkVPerSqrtS: 0 };
const series = noisySeries(calm, { seed: 5, rateHz: 5, durationS: 900 });
const recording = { timesS: series.timesS, voltagesV: series.valuesV };

function windowOf(startS: number, endS: number): AnalysisWindow {
  const parts = [{ loadIndex: 0, onTimes: [{ onsetS: startS + 60, releaseS: endS - 60 }] }];
  return { range: { start: startS * 5, end: endS * 5 }, blockS: 0, parts };
}

describe("wholeRecordingNoise()", () => {
  it("speaks where the recording is three times as long as what is judged of it", () => {
    expect(wholeRecordingNoise(recording, [windowOf(100, 250)], null, undefined)).not.toBeNull();
    expect(wholeRecordingNoise(recording, [windowOf(100, 250), windowOf(400, 600)], null, undefined)).toBeNull();
    expect(wholeRecordingNoise(recording, [], null, undefined)).toBeNull();
  });

  it("counts from the first to the last reading of every window: three times as long is enough, less is not", () => {
    const timesS = Float64Array.from({ length: 901 }, (_, i) => i);
    const plain = { timesS, voltagesV: timesS.map(() => 24) };
    const searched = { whiteV: 1, colouredV: 1, colouredTimeS: 1, walkVPerSqrtS: 1, bendVPerS15: 1 };
    const of = (...spans: readonly (readonly [number, number])[]) =>
      wholeRecordingNoise(
        plain,
        spans.map(([startS, endS]) => ({ range: { start: startS, end: endS + 1 }, blockS: 0, parts: [] })),
        null,
        searched,
      );
    expect(of([100, 400])).toBe(searched);
    expect(of([100, 401])).toBeNull();
    expect(of([100, 300], [500, 600])).toBe(searched);
    expect(of([100, 300], [500, 601])).toBeNull();
    // A window without readings of its own counts for nothing, and nothing judged tells nothing.
    expect(of([100, 400], [500, 498])).toBe(searched);
    expect(of([500, 500])).toBeNull();
  });

  it("is that of the whole recording beside the dips of every window, as a typical meter shows them", () => {
    const onTimes = [160, 175, 190].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
    const later = [700, 715].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
    const isOn = (t: number) => [...onTimes, ...later].some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
    const dipped = {
      timesS: series.timesS,
      voltagesV: series.valuesV.map((v, i) => v - (isOn(series.timesS[i]!) ? 0.4 : 0)),
    };
    const windows: AnalysisWindow[] = [
      { ...windowOf(130, 230), parts: [{ loadIndex: 0, onTimes }] },
      { ...windowOf(670, 750), parts: [{ loadIndex: 0, onTimes: later }] },
    ];
    const whole = searchSeries(dipped, null)!;
    const typical = { shiftS: 0, lagS: 0.35, inrush: 0.3, settleS: 2.5, polarization: 0.3, polarizationS: 20 };
    const dips = [onTimes, later].map((times) => dipTemplate(whole.timesS, whole.blockS, times, typical));
    const found = wholeRecordingNoise(dipped, windows, null, undefined)!;
    const beside = searchNoise(new ReadingsDesign(whole), dips).noise;
    for (const name of Object.keys(beside) as (keyof typeof beside)[])
      expect(found[name] / beside[name], name).toBeCloseTo(1, 6);
  });

  it("is that of the search where one was made", () => {
    const searched = { whiteV: 1, colouredV: 1, colouredTimeS: 1, walkVPerSqrtS: 1, bendVPerS15: 1 };
    expect(wholeRecordingNoise(recording, [windowOf(100, 250)], null, searched)).toBe(searched);
  });
});

describe("windowPrior()", () => {
  const design = new ReadingsDesign(series);

  it("holds the wander to the whole recording's, to a factor e, and leaves the rest weak", () => {
    const weak = windowPrior(design, null);
    const whole = { whiteV: 1, colouredV: 1, colouredTimeS: 1, walkVPerSqrtS: 1e-4, bendVPerS15: 1e-6 };
    const { meanLogs, sdLogs } = windowPrior(design, whole);
    expect(meanLogs[3]).toBeCloseTo(Math.log(1e-4), 9);
    expect(meanLogs[4]).toBeCloseTo(Math.log(1e-6), 9);
    expect([...sdLogs.slice(3)]).toEqual([1, 1]);
    expect([...meanLogs.slice(0, 3)]).toEqual([...weak.meanLogs.slice(0, 3)]);
    expect([...sdLogs.slice(0, 3)]).toEqual([...weak.sdLogs.slice(0, 3)]);
  });
});
