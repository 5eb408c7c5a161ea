// IEC 61000-4-30, voltage dips: a dip begins below the threshold and ends at or above threshold plus hysteresis; the
// residual voltage is the lowest during it (secondary pages); sliding reference 0.9967 and 0.0033 each 0.2 s, one minute
// (from memory). The trace is a direct-current analogue.
import { describe, expect, it } from "vitest";
import { REFERENCE_TIME_S, slidingReference, thresholdDips } from "../../src/core/estimation/threshold-dips.js";
import { lastDigits } from "./data-files.js";

describe("IEC 61000-4-30", () => {
  const voltagesV = Float64Array.of(28.0, 27.88, 27.91, 27.94, 27.96);
  const timesS = Float64Array.of(0, 1, 2, 3, 4);

  it("thresholdDips() at 27.9 V with 0.05 V of hysteresis: one dip, residual 27.88 V, over at 27.96 V, not at 27.91 V", () => {
    expect(thresholdDips(timesS, voltagesV, { thresholdV: 27.9, hysteresisV: 0.05 })).toEqual([
      { onsetS: 1, releaseS: 4, residualV: 27.88 },
    ]);
  });

  it("thresholdDips() without hysteresis ends at the first reading back at the threshold", () => {
    expect(thresholdDips(timesS, voltagesV, { thresholdV: 27.9, hysteresisV: 0 })[0].releaseS).toBe(2);
  });

  it("thresholdDips() leaves a dip open at the end of the readings", () => {
    expect(thresholdDips(timesS, voltagesV, { thresholdV: 27.9, hysteresisV: 0.2 })[0].releaseS).toBeNull();
  });

  it("the weights of the sliding reference are a time constant of 60.5 s, the one minute", () => {
    expect(lastDigits(REFERENCE_TIME_S, "60.5")).toBeLessThanOrEqual(0.5);
  });

  it("slidingReference() repeats the recursion at 0.2 s and stands still in a dip", () => {
    const count = 100;
    const times = Float64Array.from({ length: count }, (_, k) => 0.2 * k);
    const volts = times.map((_, k) => (k < 50 ? 28 : 27));
    const reference = slidingReference(times, volts, (k) => k >= 80);
    let expected = 28;
    for (let k = 1; k < count; k++) if (k < 80) expected = 0.9967 * expected + 0.0033 * volts[k];
    expect(reference[count - 1]).toBeCloseTo(expected, 12);
  });
});
