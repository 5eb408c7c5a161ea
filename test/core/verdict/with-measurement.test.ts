import { describe, expect, it } from "vitest";
import type { MeasuredSteps } from "../../../src/core/estimation/dip-resistances.js";
import type { StepResistance } from "../../../src/core/estimation/step-resistance.js";
import { normalSurvival } from "../../../src/core/statistics/distribution.js";
import { withMeasurement } from "../../../src/core/verdict/with-measurement.js";
import { judgedOf, RESPONSE } from "./judged-response.js";

const timesS = Float64Array.from({ length: 400 }, (_, i) => i / 10);
/** A clamp that reads 1 A more from 10 to 15 s and from 20 to 26 s. */
const current = {
  timesS,
  currentsA: timesS.map((t) => ((t >= 10 && t < 15) || (t >= 20 && t < 26) ? 6 : 5)),
};
const recording = { timesS, voltagesV: timesS.map(() => 24), current };

/** A step at `atS` whose voltage changes by `changeV`, known to `uV`. */
function stepAt(atS: number, changeV: number, uV: number): StepResistance {
  const answer = {
    known: true as const,
    resistanceOhm: Math.abs(changeV),
    uOhm: uV,
    changeV,
    changeA: 1,
    rows: [{ source: "depth" as const, value: changeV, unit: "V" as const, u: uV, sensitivity: 1 }],
  };
  return {
    step: { beforeS: atS - 0.1, afterS: atS + 0.1, onsetS: atS, beforeA: 5, afterA: 6 } as StepResistance["step"],
    charging: false,
    answers: [{ atS: 0.2, first: true, answer }],
  };
}
const stepsOf = (...onSteps: StepResistance[]): MeasuredSteps => ({ onSteps, reason: null, dischargeSign: 1 });

describe("withMeasurement()", () => {
  it("changes nothing where no current was measured", () => {
    const judged = judgedOf();
    expect(withMeasurement(judged, { timesS, voltagesV: recording.voltagesV }, stepsOf(stepAt(10, -0.1, 0.001)))).toBe(
      judged,
    );
  });

  it("adds the measured current, and leaves the depth alone where no step is clear", () => {
    const { measuredA, ...rest } = withMeasurement(judgedOf(), recording, null);
    expect(measuredA!.value).toBeCloseTo(1, 12);
    expect(rest).toEqual({ ...judgedOf(), measuredA: undefined, ...rest });
    expect(rest.depth).toEqual(judgedOf().depth);
    expect(rest.pValue).toBe(judgedOf().pValue);
    // 6 % of the depth is not clear.
    expect(withMeasurement(judgedOf(), recording, stepsOf(stepAt(10, -0.1, 0.006))).depth).toEqual(judgedOf().depth);
  });

  it("takes the mean of the clear steps; their scatter and the least sure of them make its uncertainty", () => {
    const { depth, response, pValue } = withMeasurement(
      judgedOf({ pValue: 1 }),
      recording,
      stepsOf(stepAt(10, -0.1, 0.002), stepAt(20, -0.104, 0.004)),
    );
    expect(depth.value).toBeCloseTo(0.102, 12);
    expect(depth).toMatchObject({ unit: "V", route: "measured-current" });
    // Scatter of two: 4 mV / sqrt 2.
    expect(depth.u).toBeCloseTo(Math.hypot(0.004, 0.004 / Math.SQRT2), 12);
    expect(Array.from(response.depth.means)).toEqual([depth.value]);
    expect(Array.from(response.depth.sds)).toEqual([depth.u]);
    expect(Array.from(response.depth.weights)).toEqual([1]);
    // 50 and 26 standard uncertainties.
    expect(pValue).toBeCloseTo(normalSurvival((50 + 26) / Math.SQRT2), 300);
    expect(pValue).toBeLessThan(1e-200);
  });

  it("scores by the root of the number of steps, and keeps a smaller chance that was found before", () => {
    const weak = (pValue: number) =>
      withMeasurement(judgedOf({ pValue }), recording, stepsOf(stepAt(10, -0.1, 0.005), stepAt(20, -0.1, 0.005)));
    // 20 standard uncertainties each: 40 / sqrt 2 together.
    expect(weak(1).pValue / normalSurvival(40 / Math.SQRT2)).toBeCloseTo(1, 9);
    expect(weak(0).pValue).toBe(0);
  });

  it("one clear step of two is enough, one of three is not", () => {
    const clear = stepsOf(stepAt(10, -0.2, 0.002));
    const one = withMeasurement(judgedOf(), recording, clear);
    expect(one.depth.value).toBeCloseTo(0.2, 12);
    expect(one.depth.u).toBeCloseTo(0.002, 12);
    const onTimes = [...RESPONSE.onTimes, { onsetS: 30, releaseS: 35 }];
    const three = judgedOf({ response: { ...RESPONSE, onTimes } });
    expect(withMeasurement(three, recording, clear).depth).toEqual(judgedOf().depth);
  });
});
