import { describe, expect, it } from "vitest";
import type { SharedStep } from "../../../src/core/series/fine-offset.js";
import { residualNoise, stepHeight } from "../../../src/core/series/step-fit.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const even = (count: number, intervalS: number, startS = 0) =>
  Float64Array.from({ length: count }, (_, i) => startS + i * intervalS);
const noise = { sigmaV: 0.02, sigmaA: 0.1, correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 };

describe("stepHeight()", () => {
  it("is the difference of the levels on either side, and its uncertainty that of two means", () => {
    const timesS = even(10, 1);
    const values = Float64Array.of(1, 1.2, 0.8, 1, 5, 5.1, 4.9, 5, 5.2, 4.8);
    const { height, uHeight } = stepHeight({ timesS, values }, 3.5, 0, noise);
    expect(height).toBeCloseTo(4, 12);
    expect(uHeight).toBeCloseTo(0.02 * Math.sqrt(1 / 4 + 1 / 6), 12);
  });

  it("takes a slope off where twelve readings or more tell it", () => {
    const sloping = (count: number) => {
      const timesS = even(count, 1);
      return stepHeight({ timesS, values: timesS.map((t) => 0.5 * t + (t >= 6 ? 3 : 0)) }, 5.5, 0, noise).height;
    };
    expect(sloping(12)).toBeCloseTo(3, 9);
    expect(sloping(30)).toBeCloseTo(3, 9);
    // Eleven readings: means of 0..5 and 6..10, 5.5 s apart.
    expect(sloping(11)).toBeCloseTo(3 + 0.5 * 5.5, 9);
  });

  it("sees the step through the lag", () => {
    const timesS = even(40, 0.1);
    const values = timesS.map((t) => (t < 2 ? 1 : 1 - 0.3 * (1 - Math.exp(-(t - 2) / 0.4))));
    expect(stepHeight({ timesS, values }, 2, 0.4, noise).height).toBeCloseTo(-0.3, 9);
  });

  it("knows nothing of a step outside the window", () => {
    const window = { timesS: even(10, 1), values: even(10, 1) };
    expect(stepHeight(window, 20, 0, noise)).toEqual({ height: 0, uHeight: Number.POSITIVE_INFINITY });
    expect(stepHeight(window, -5, 0, noise)).toEqual({ height: 0, uHeight: Number.POSITIVE_INFINITY });
  });

  it("knows nothing of a step of which less than 3e-5 shows in the window, by its mean square", () => {
    const timesS = even(10, 0.1);
    const lagS = 0.6;
    // What is left of the step at its first reading, e^(-t / lag), and how far it scatters about its mean: 0.207 of that.
    const tail = timesS.map((t) => Math.exp(-t / lagS));
    const mean = tail.reduce((sum, value) => sum + value, 0) / tail.length;
    const rms = Math.sqrt(tail.reduce((sum, value) => sum + (value - mean) ** 2, 0) / tail.length);
    const shownBy = (share: number) =>
      stepHeight({ timesS, values: tail }, lagS * Math.log(share / rms), lagS, noise).uHeight;
    expect(shownBy(3.0e-5)).toBe(Number.POSITIVE_INFINITY);
    expect(shownBy(3.3e-5) / (0.02 / (3.3e-5 * Math.sqrt(10)))).toBeCloseTo(1, 4);
  });

  it("of correlated readings is as sure as a share (1 - r) / (1 + r) of independent ones", () => {
    const window = { timesS: even(10, 1), values: even(10, 1).map((t) => (t >= 5 ? 1 : 0)) };
    const plain = stepHeight(window, 4.5, 0, noise).uHeight;
    // sigmaV is what whitening leaves: the readings themselves scatter by 1 / sqrt(1 - r^2) more.
    const { uHeight } = stepHeight(window, 4.5, 0, { ...noise, correlationV: 0.6 });
    expect(uHeight / plain).toBeCloseTo((1 / 0.8) * Math.sqrt(1.6 / 0.4), 12);
  });
});

describe("residualNoise()", () => {
  const intervals = { voltageIntervalS: 0.1, currentIntervalS: 0.25 };
  /** Steps of -0.12 V and 6 A, 5 s of readings around each, AR(1) noise of the voltage. */
  function drawn(count: number, sigmaV: number, sigmaA: number, correlation = 0, seed = 1): SharedStep[] {
    const random = randomGenerator(seed);
    return Array.from({ length: count }, (_, k) => {
      const currentS = 10 * k + 5.05;
      let wander = random.normal() * sigmaV;
      const voltageTimesS = even(50, 0.1, currentS + 3 - 2.5);
      const values = voltageTimesS.map((t) => {
        wander = correlation * wander + Math.sqrt(1 - correlation ** 2) * sigmaV * random.normal();
        return 24 - (t >= currentS + 3 ? 0.12 : 0) + wander;
      });
      const currentTimesS = even(20, 0.25, currentS - 2.5);
      const currentsA = currentTimesS.map((t) => (t >= currentS ? 6 : 0) + sigmaA * random.normal());
      return {
        currentS,
        voltage: { timesS: voltageTimesS, values },
        current: { timesS: currentTimesS, values: currentsA },
      };
    });
  }

  it("finds the scatter of both series around their steps, wherever within the reach these are", () => {
    // 40 windows of 50 and 20 readings: standard deviations known to 1.6 % and 2.5 %; the onset is fitted to each.
    const found = residualNoise(drawn(40, 0.02, 0.3), intervals, 2.7, 0.5);
    expect(found).toMatchObject({ correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 });
    expect(Math.abs(found.sigmaV / 0.02 - 1)).toBeLessThan(0.07);
    expect(Math.abs(found.sigmaA / 0.3 - 1)).toBeLessThan(0.1);
  });

  it("counts the four numbers that are fitted to each window: the scatter of 5,000 readings within 5 %", () => {
    // Left uncounted they would make the current's scatter, of 20 readings a window, a tenth smaller.
    expect(Math.abs(residualNoise(drawn(250, 0.02, 0.3), intervals, 2.7, 0.5).sigmaA / 0.3 - 1)).toBeLessThan(0.05);
  });

  it("finds the correlation of neighbours, and then the scatter that whitening leaves", () => {
    const found = residualNoise(drawn(40, 0.02, 0.3, 0.6), intervals, 3, 0.5);
    expect(Math.abs(found.correlationV - 0.6)).toBeLessThan(0.1);
    // Whitened to unit innovations: the stationary deviation stays 20 mV on the first reading, and on the rest too.
    expect(Math.abs(found.sigmaV / 0.02 - 1)).toBeLessThan(0.15);
  });

  it("finds the correlation of eleven readings by hand", () => {
    // Off their two levels by these: products of neighbours sum to -4, squares to 16.
    const offV = [2, -2, 1, 0, -1, 1, 1, 1, -1, -1, -1];
    const values = Float64Array.from(offV, (v, i) => v + (i >= 5 ? 20 : 0));
    const step = { timesS: even(11, 1), values };
    const slow = { voltageIntervalS: 1, currentIntervalS: 0.25 };
    const found = residualNoise([{ currentS: 4.5, voltage: step, current: step }], slow, 0, 0.5);
    // (-4 / 16 + 4 / 11) / (1 - 6 / 11).
    expect(found.correlationV).toBeCloseTo(0.25, 9);
  });

  it("takes no instrument to step more cleanly than a hundredth of its step", () => {
    const found = residualNoise(drawn(10, 0, 0), intervals, 3, 0.5);
    expect(found.sigmaV).toBeCloseTo(0.0012, 6);
    expect(found.sigmaA).toBeCloseTo(0.06, 3);
    expect(found.correlationV).toBe(0);
  });
});

/**
 * The same by plain least squares: each window's step, level and (from twelve readings on) slope at every onset of a fine
 * mesh, one of the four lags for all; then the scatter of what is left, four numbers a window taken off.
 */
function byHand(
  steps: readonly SharedStep[],
  intervals: { readonly voltageIntervalS: number; readonly currentIntervalS: number },
  offsetS: number,
  halfWidthS: number,
) {
  const beyondS = 3 * intervals.currentIntervalS + 0.6;
  const whitened = (series: readonly number[], timesS: Float64Array, r: number) =>
    series.map((value, i) => {
      if (r === 0 || i === 0) return value;
      const kept = r ** ((timesS[i]! - timesS[i - 1]!) / intervals.voltageIntervalS);
      return (value - kept * series[i - 1]!) / Math.sqrt(1 - kept * kept);
    });
  const responseOf = (timesS: Float64Array, onsetS: number, lagS: number) =>
    Array.from(timesS, (t) => (t < onsetS ? 0 : lagS === 0 ? 1 : 1 - Math.exp((onsetS - t) / lagS)));
  const residualsOf = ({ timesS, values }: SharedStep["voltage"], onsetS: number, lagS: number, r: number) => {
    const beside = [
      Array.from(timesS, () => 1),
      ...(timesS.length >= 12 ? [Array.from(timesS, (t) => t - timesS[0]!)] : []),
    ];
    const columns = [...beside, responseOf(timesS, onsetS, lagS)].map((column) => whitened(column, timesS, r));
    // Gram-Schmidt, twice for the digits.
    const basis: number[][] = [];
    const clear = (column: readonly number[]) => {
      let left = [...column];
      for (const direction of [...basis, ...basis]) {
        const share = direction.reduce((sum, d, i) => sum + d * left[i]!, 0);
        left = left.map((value, i) => value - share * direction[i]!);
      }
      return left;
    };
    for (const column of columns) {
      const left = clear(column);
      const size = Math.hypot(...left);
      if (size > 1e-5 * Math.sqrt(timesS.length)) basis.push(left.map((value) => value / size));
    }
    const readings = whitened(Array.from(values), timesS, r);
    const left = clear(readings);
    const height = basis.length < columns.length ? 0 : basis.at(-1)!.reduce((sum, d, i) => sum + d * readings[i]!, 0);
    basis.pop();
    const own = Math.hypot(...clear(columns.at(-1)!));
    return { left, height: Math.abs(height) / own };
  };
  const pooled = (
    windows: readonly { readonly window: SharedStep["voltage"]; readonly aboutS: number; readonly reachS: number }[],
    r: number,
  ) => {
    const byLag = [0, 0.15, 0.3, 0.6].map((lagS) => {
      const fits = windows.map(({ window, aboutS, reachS }) => {
        let best = { rss: Number.POSITIVE_INFINITY, onsetS: aboutS };
        for (let k = 0; k <= 640; k++) {
          const onsetS = aboutS - reachS + (reachS * k) / 320;
          const { left } = residualsOf(window, onsetS, lagS, r);
          const rss = left.reduce((sum, e) => sum + e * e, 0);
          if (rss < best.rss) best = { rss, onsetS };
        }
        return best;
      });
      return { lagS, fits, rss: fits.reduce((sum, { rss }) => sum + rss, 0) };
    });
    const best = byLag.reduce((a, b) => (b.rss < a.rss ? b : a));
    const plain = windows.map(({ window }, k) => residualsOf(window, best.fits[k]!.onsetS, best.lagS, 0));
    const heights = plain.map(({ height }) => height).sort((a, b) => a - b);
    const count = windows.reduce((sum, { window }) => sum + window.values.length, 0);
    const squares = plain.reduce((sum, { left }) => sum + left.reduce((own, e) => own + e * e, 0), 0);
    const products = plain.reduce(
      (sum, { left }) => sum + left.slice(1).reduce((own, e, i) => own + e * left[i]!, 0),
      0,
    );
    const loss = windows.length / count;
    const raw = (products / squares + 4 * loss) / (1 - 6 * loss);
    return {
      sigma: Math.max(
        Math.sqrt(best.rss / (count - 4 * windows.length)),
        0.01 * heights[Math.floor(heights.length / 2)]!,
      ),
      correlation: raw < 0.15 ? 0 : Math.min(0.95, raw),
    };
  };
  const voltage = steps.map((step) => ({
    window: step.voltage,
    aboutS: step.currentS + offsetS,
    reachS: halfWidthS + beyondS,
  }));
  const { sigma, correlation } = pooled(voltage, 0);
  const current = steps.map((step) => ({ window: step.current, aboutS: step.currentS, reachS: beyondS }));
  return {
    sigmaV: correlation === 0 ? sigma : pooled(voltage, correlation).sigma,
    correlationV: correlation,
    sigmaA: pooled(current, 0).sigma,
  };
}

describe("residualNoise() beside plain least squares at every onset", () => {
  const intervals = { voltageIntervalS: 0.1, currentIntervalS: 0.25 };
  it.each([
    [0, 0, 24],
    [0.5, 0.3, 24],
    [0.8, 0, 24],
    [0, 0.6, 10],
  ])(
    "finds the same scatter and correlation: correlated by %d, a lag of %d s, %d readings of the voltage",
    (r, lagS, count) => {
      const random = randomGenerator(11);
      const offsetS = 2;
      const steps: SharedStep[] = Array.from({ length: 5 }, (_, k) => {
        const currentS = 20 * k + 5.05 + random.uniform();
        let wander = random.normal();
        const timesS = even(count, 0.1, currentS + offsetS - 0.05 * count + 0.1 * random.uniform());
        const values = timesS.map((t) => {
          wander = r * wander + Math.sqrt(1 - r * r) * random.normal();
          const since = t - currentS - offsetS;
          const share = since < 0 ? 0 : lagS === 0 ? 1 : 1 - Math.exp(-since / lagS);
          return 24 + 0.02 * t - 0.2 * share + 0.01 * wander;
        });
        const currentTimesS = even(14, 0.25, currentS - 1.8);
        return {
          currentS,
          voltage: { timesS, values },
          current: {
            timesS: currentTimesS,
            values: currentTimesS.map((t) => (t >= currentS ? 6 : 0) + 0.2 * random.normal()),
          },
        };
      });
      const found = residualNoise(steps, intervals, offsetS, 0.4);
      const hand = byHand(steps, intervals, offsetS, 0.4);
      expect(Math.abs(found.sigmaV / hand.sigmaV - 1)).toBeLessThan(0.01);
      expect(Math.abs(found.correlationV - hand.correlationV)).toBeLessThan(0.02);
      expect(Math.abs(found.sigmaA / hand.sigmaA - 1)).toBeLessThan(0.01);
    },
  );
});
