import { describe, expect, it } from "vitest";
import type { AnalysisWindow } from "../../../src/core/detection/analysis-window.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
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
