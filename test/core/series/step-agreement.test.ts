import { describe, expect, it } from "vitest";
import type { SharedStep } from "../../../src/core/series/fine-offset.js";
import type { OffsetFound } from "../../../src/core/series/offset-posterior.js";
import type { SeriesPair } from "../../../src/core/series/series-pair.js";
import { sharedProportion, stepsWithoutPartner } from "../../../src/core/series/step-agreement.js";

const even = (count: number, intervalS: number, startS = 0) =>
  Float64Array.from({ length: count }, (_, i) => startS + i * intervalS);
const noise = { sigmaV: 0.02, sigmaA: 0.1, correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 };
const found = (changed: Partial<OffsetFound> = {}) =>
  ({ referenceS: 40, offsetS: 100, rate: 0, voltageLagS: 0, discord: 3, ...changed }) as OffsetFound;

/** Steps of the current at 10, 20, 30 s and on, with the voltage's own heights 100 s later, without noise. */
function steps(heightsA: readonly number[], heightsV: readonly number[], atS = (k: number) => 10 + 10 * k) {
  return heightsA.map((height, k) => {
    const timesS = even(10, 0.5, atS(k) + 97.75);
    const values = timesS.map((t) => 24 + (t >= 100 + atS(k) ? heightsV[k]! : 0));
    const window = { timesS, values };
    return { timeS: 10 + 10 * k, height, currentS: 10 + 10 * k, voltage: window, current: window } as SharedStep & {
      timeS: number;
      height: number;
    };
  });
}
const on = [5, -5, 5, -5, 5];
const down = on.map((height) => -0.02 * height);

describe("sharedProportion()", () => {
  it("is the volts that the bus falls for each ampere, by either sign of the clamp", () => {
    expect(sharedProportion(steps(on, down), found(), noise, 1)).toBeCloseTo(0.02, 9);
    expect(
      sharedProportion(
        steps(
          on.map((a) => -a),
          down,
        ),
        found(),
        noise,
        -1,
      ),
    ).toBeCloseTo(0.02, 9);
    expect(sharedProportion(steps(on, down), found(), noise, -1)).toBeNull();
  });

  it("weighs each step by how well its ratio is known", () => {
    // u of a ratio falls with the height of the step: weights 25 : 4 (heights 5 and 2) for ratios 0.02 and 0.022.
    const heights = [5, -2, 5, -2];
    const volts = [-0.1, 0.044, -0.1, 0.044];
    expect(sharedProportion(steps(heights, volts), found(), noise, 1)).toBeCloseTo((25 * 0.02 + 4 * 0.022) / 29, 9);
  });

  it("follows the rate of the clocks to each step", () => {
    // 5 % faster: at 10 s it is 1.5 s earlier than without.
    const moved = (k: number) => 10 + 10 * k + 0.05 * (10 + 10 * k - 40);
    expect(sharedProportion(steps(on, down, moved), found({ rate: 0.05 }), noise, 1)).toBeCloseTo(0.02, 9);
    const still = sharedProportion(steps(on, down, moved), found(), noise, 1);
    expect(still === null || Math.abs(still - 0.02) > 1e-3).toBe(true);
  });

  it("is nothing where it is known to less than a third of itself", () => {
    // Each ratio to 20 mV sqrt(1/5 + 1/5) / 5 A = 2.53 mOhm, five of them to 1.131 mOhm: three times that is 3.39.
    const proportion = (ohm: number) =>
      sharedProportion(
        steps(
          on,
          on.map((a) => -ohm * a),
        ),
        found(),
        noise,
        1,
      );
    expect(proportion(0.0036)).not.toBeNull();
    expect(proportion(0.0032)).toBeNull();
  });

  it("is nothing where one step of the current plainly does not show in the voltage", () => {
    const one = (share: number) => {
      const volts = [...down];
      volts[2] = share * volts[2]!;
      return sharedProportion(steps(on, volts), found(), { ...noise, sigmaV: 0.001 }, 1);
    };
    // Uncertain by 0.126 mOhm each: less than half of 20 mOhm less twice that.
    expect(one(0.5)).not.toBeNull();
    expect(one(0.48)).toBeNull();
    expect(one(0)).toBeNull();
  });

  it("is nothing where the ratios differ by far more than a quarter and the noise, or the offsets disagree", () => {
    const ratios = (factor: number) => on.map((a, k) => -0.02 * a * (k % 2 === 0 ? 1 : factor));
    expect(sharedProportion(steps(on, ratios(1.6)), found(), noise, 1)).not.toBeNull();
    expect(sharedProportion(steps(on, ratios(8)), found(), noise, 1)).toBeNull();
    // Chi-square of four degrees: 13.28 at 99 %.
    expect(sharedProportion(steps(on, down), found({ discord: 13.2 }), noise, 1)).not.toBeNull();
    expect(sharedProportion(steps(on, down), found({ discord: 13.4 }), noise, 1)).toBeNull();
  });
});

describe("stepsWithoutPartner()", () => {
  const isOn = (t: number, times: readonly number[]) =>
    times.some((time, k) => k % 2 === 0 && t >= time && t < (times[k + 1] ?? Number.POSITIVE_INFINITY));
  /** Ten readings a second over 200 s; 0.1 V down between the times; the current from 20 to 80 s of its own clock. */
  function pair(voltageTimes: readonly number[], unrestV = 0.0005): SeriesPair {
    const voltageTimesS = even(2000, 0.1);
    const currentTimesS = even(240, 0.25, 20);
    return {
      voltageTimesS,
      voltagesV: voltageTimesS.map(
        (t, i) => 24 - (isOn(t, voltageTimes) ? 0.1 : 0) + unrestV * (((i * 7919) % 13) - 6),
      ),
      currentTimesS,
      currentsA: currentTimesS.map(() => 0),
      voltageIntervalS: 0.1,
      currentIntervalS: 0.25,
      slowerS: 0.25,
      voltageRowS: 0.1,
      currentRowS: 0.25,
    };
  }
  const own = [30, 35, 50, 55].map((timeS, k) => ({ timeS, height: k % 2 === 0 ? 5 : -5 }));
  const shown = own.map(({ timeS }) => timeS + 100);

  it("counts the steps of the voltage that the current does not show", () => {
    const count = (more: readonly number[]) => stepsWithoutPartner(pair([...shown, ...more]), own, found(), 0.02, 1);
    expect(count([])).toBe(0);
    expect(count([165, 170])).toBe(2);
    expect(count([165, 170, 174, 178])).toBe(4);
  });

  it("counts them only where both logs have readings", () => {
    const count = (more: readonly number[]) => stepsWithoutPartner(pair([...more, ...shown]), own, found(), 0.02, 1);
    expect(count([100, 110])).toBe(0);
    expect(count([122, 126])).toBe(2);
    expect(stepsWithoutPartner(pair([...shown, 185, 190]), own, found(), 0.02, 1)).toBe(0);
  });

  it("counts none below six tenths of the shared steps", () => {
    const shallow = (share: number) => {
      const base = pair(shown);
      const voltagesV = base.voltagesV.map((v, i) => {
        const t = base.voltageTimesS[i]!;
        return t >= 165 && t < 172 ? v - 0.1 * share : v;
      });
      return stepsWithoutPartner({ ...base, voltagesV }, own, found(), 0.02, 1);
    };
    expect(shallow(0.65)).toBe(2);
    expect(shallow(0.55)).toBe(0);
  });

  it("takes the current's steps out by its sign and rate", () => {
    const reversed = own.map(({ timeS, height }) => ({ timeS, height: -height }));
    expect(stepsWithoutPartner(pair(shown), reversed, found(), 0.02, -1)).toBe(0);
    expect(stepsWithoutPartner(pair(shown), own, found(), 0.02, -1)).toBeGreaterThan(0);
    const moved = own.map(({ timeS }) => timeS + 100 + 0.1 * (timeS - 40));
    expect(stepsWithoutPartner(pair(moved), own, found({ rate: 0.1 }), 0.02, 1)).toBe(0);
    expect(stepsWithoutPartner(pair(moved), own, found(), 0.02, 1)).toBeGreaterThan(0);
  });

  it("looks away while the meter follows: three lags and two readings behind each step", () => {
    const base = pair(shown);
    const lagged = base.voltageTimesS.map((t) =>
      own.reduce(
        (v, { timeS, height }) => (t < timeS + 100 ? v : v - 0.02 * height * (1 - Math.exp(-(t - timeS - 100) / 1))),
        24,
      ),
    );
    expect(stepsWithoutPartner({ ...base, voltagesV: lagged }, own, found({ voltageLagS: 1 }), 0.02, 1)).toBe(0);
  });

  it("has nothing to say of a handful of readings", () => {
    const base = pair([165, 170]);
    const few = { ...base, currentTimesS: Float64Array.of(64, 64.8) };
    expect(stepsWithoutPartner(few, own, found(), 0.02, 1)).toBe(0);
  });
});
