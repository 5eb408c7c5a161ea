import { describe, expect, it } from "vitest";
import type { Detected, DetectedWindow } from "../../../src/core/detection/detect-in-windows.js";
import { gatherCurves } from "../../../src/core/verdict/gather-curves.js";
import { dipOf, judgedOf, RESPONSE } from "./judged-response.js";

/** A stretch of readings from `fromS` on, ten a second, with a level of 24 V and dips of 0.1 V while `isOn`. */
function windowOf(fromS: number, count: number, isOn: (t: number) => boolean, joint = true): DetectedWindow {
  const timesS = Float64Array.from({ length: count }, (_, i) => fromS + 0.05 + i / 10);
  const driftV = timesS.map((t) => 24 + 0.001 * t);
  const modelV = timesS.map((t, i) => driftV[i]! - (isOn(t) ? 0.1 : 0));
  // Readings 3 mV above and below the model in turn.
  const valuesV = modelV.map((v, i) => v + (i % 2 === 0 ? 0.003 : -0.003));
  return {
    detection: { design: { series: { timesS, valuesV } }, responses: [RESPONSE] },
    single: { dips: [], joint: joint ? { modelV, driftV } : null },
  } as unknown as DetectedWindow;
}
const isOn = (t: number) => (t >= 10 && t < 14) || (t >= 20 && t < 26);
const dips = [dipOf({ onTime: { onsetS: 10, releaseS: 14 } }), dipOf({ onTime: { onsetS: 20, releaseS: 26 } })];
const detected = (...windows: DetectedWindow[]) => ({ windows }) as unknown as Detected;

describe("gatherCurves()", () => {
  it("joins the judged stretches in their order, and leaves out those without a fit", () => {
    const [one, two] = [windowOf(0, 30, () => false), windowOf(8, 20, isOn)];
    const curves = gatherCurves(detected(one, windowOf(4, 10, isOn, false), two), [judgedOf({ dips: [] })]);
    const both = (pick: (window: DetectedWindow) => Float64Array) => [...pick(one), ...pick(two)];
    expect(Array.from(curves.timesS)).toEqual(both(({ detection }) => detection.design.series.timesS));
    expect(Array.from(curves.readingsV)).toEqual(both(({ detection }) => detection.design.series.valuesV));
    expect(Array.from(curves.modelV)).toEqual(both(({ single }) => single.joint!.modelV));
    expect(Array.from(curves.driftV)).toEqual(both(({ single }) => single.joint!.driftV));
    expect(curves.coherent).toEqual([]);
    expect(gatherCurves(detected(), []).timesS).toHaveLength(0);
  });

  it("averages a load's dips from half the shortest before the onset to one and a half after it", () => {
    const { coherent } = gatherCurves(detected(windowOf(0, 400, isOn)), [judgedOf({ dips })]);
    expect(coherent).toHaveLength(1);
    const [average] = coherent;
    expect(average).toMatchObject({
      load: "probe",
      dipCount: 2,
      onTimes: [
        { onsetS: 10, releaseS: 14 },
        { onsetS: 20, releaseS: 26 },
      ],
    });
    const { timesS, meanV, modelV, uMeanV } = average!;
    // 8 s in 90 points: 89 ms wide, the first in the middle of its own.
    const widthS = 8 / 90;
    expect(timesS[0]).toBeCloseTo(-2 + widthS / 2, 9);
    for (const t of timesS) {
      const place = (t + 2) / widthS - 0.5;
      expect(Math.abs(place - Math.round(place))).toBeLessThan(1e-6);
      expect(place).toBeLessThan(90);
    }
    expect(timesS[timesS.length - 1]).toBeGreaterThan(5.8);
    timesS.forEach((t, k) => {
      // Readings are 0.1 s apart from 0.05 on: only points a tenth of a second off the edges are plain.
      if (t < -0.15) expect(modelV[k]).toBeCloseTo(0, 9);
      if (t > 0.15 && t < 3.85) expect(modelV[k]).toBeCloseTo(-0.1, 9);
      // Past 4 s one of the two dips is over.
      if (t > 4.15) expect([-0.1, -0.05, 0].some((v) => Math.abs(v - modelV[k]!) < 1e-9)).toBe(true);
      expect(Math.abs(meanV[k]! - modelV[k]!)).toBeLessThan(0.003 + 1e-9);
      // All readings are 3 mV off: 3 mV over the root of the readings of the point, one or two here.
      expect([0.003, 0.003 / Math.SQRT2].some((u) => Math.abs(u - uMeanV[k]!) < 1e-9)).toBe(true);
    });
    expect([...uMeanV].some((u) => u < 0.0025)).toBe(true);
  });

  it("counts the dips of this stretch alone", () => {
    const first = windowOf(5, 120, isOn);
    const { coherent } = gatherCurves(detected(first), [judgedOf({ dips })]);
    expect(coherent[0]!.dipCount).toBe(1);
    expect(coherent[0]!.onTimes).toEqual([{ onsetS: 10, releaseS: 14 }]);
    const outside = dipOf({ onTime: { onsetS: 17, releaseS: 18 } });
    expect(gatherCurves(detected(first), [judgedOf({ dips: [outside] })]).coherent).toEqual([]);
    const before = dipOf({ onTime: { onsetS: 1, releaseS: 5.05 } });
    expect(gatherCurves(detected(first), [judgedOf({ dips: [before] })]).coherent).toEqual([]);
    expect(gatherCurves(detected(first), []).coherent).toEqual([]);
  });
});
