import { describe, expect, it } from "vitest";
import {
  fineOffset,
  type OffsetSearch,
  type SharedStep,
  type StepNoise,
} from "../../../src/core/series/fine-offset.js";
import { stepResiduals } from "../../../src/core/series/step-time-likelihood.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const noise: StepNoise = { sigmaV: 0.02, sigmaA: 0.6, correlationV: 0, voltageIntervalS: 0.1, currentIntervalS: 0.25 };
const base: OffsetSearch = {
  centreS: 100.2,
  halfWidthS: 0.5,
  stepS: 0.05,
  voltageLags: [
    { lagS: 0, weight: 1 },
    { lagS: 0.3, weight: 2 },
  ],
  currentLags: [
    { lagS: 0, weight: 0.7 },
    { lagS: 0.2, weight: 0.3 },
  ],
  largestRate: 0,
};

function stepsAt(timesS: readonly number[], rate: number, seed: number): SharedStep[] {
  const random = randomGenerator(seed);
  const meanS = timesS.reduce((a, b) => a + b, 0) / timesS.length;
  return timesS.map((timeS) => {
    const atS = timeS + 100.3 + rate * (timeS - meanS);
    const voltageS = Float64Array.from({ length: 40 }, (_, i) => Math.round(atS * 10) / 10 + (i - 20) / 10);
    const currentS = Float64Array.from({ length: 16 }, (_, i) => Math.round(timeS * 4) / 4 + (i - 8) / 4);
    return {
      // The step is looked for about here: not quite where it is.
      currentS: timeS + 0.1 * (random.uniform() - 0.5),
      voltage: {
        timesS: voltageS,
        values: voltageS.map(
          (t) => 24 - (t > atS ? 0.12 * (1 - Math.exp((atS - t) / 0.2)) : 0) + 0.02 * random.normal(),
        ),
      },
      current: { timesS: currentS, values: currentS.map((t) => (t >= timeS ? 6 : 0) + 0.6 * random.normal()) },
    };
  });
}

/** Every offset, rate and pair of lags in turn, the likelihood of each step summed over when it may have happened. */
function byHand(steps: readonly SharedStep[], search: OffsetSearch) {
  const { stepS, centreS } = search;
  const reach = Math.ceil(search.halfWidthS / stepS);
  const offsets = Array.from({ length: 2 * reach + 1 }, (_, m) => centreS + (m - reach) * stepS);
  const referenceS = steps.reduce((sum, one) => sum + one.currentS, 0) / steps.length;
  const farthestS = Math.max(...steps.map((one) => Math.abs(one.currentS - referenceS)));
  const rateReach = Math.min(30, Math.ceil((search.largestRate * farthestS) / stepS));
  const rates =
    rateReach === 0
      ? [0]
      : Array.from({ length: 2 * rateReach + 1 }, (_, i) => (i / rateReach - 1) * search.largestRate);
  // A step may have happened three intervals and 0.6 s before it shows, or two intervals after.
  const earlyS = 3 * noise.currentIntervalS + 0.6;
  const moments = Math.ceil((earlyS + 2 * noise.currentIntervalS) / stepS) + 1;
  const grids = steps.map((one) => {
    const at = (
      window: SharedStep["voltage"],
      firstS: number,
      count: number,
      lagsS: readonly number[],
      sigma: number,
      own: { correlation: number; intervalS: number },
    ) =>
      stepResiduals(window, { firstS, stepS, count, lagsS, ...own }).map((rss) =>
        Array.from(rss, (value) => -value / (2 * sigma * sigma)),
      );
    return {
      voltage: at(
        one.voltage,
        one.currentS - earlyS + offsets[0]!,
        moments + offsets.length - 1,
        search.voltageLags.map(({ lagS }) => lagS),
        noise.sigmaV,
        { correlation: noise.correlationV, intervalS: noise.voltageIntervalS },
      ),
      current: at(
        one.current,
        one.currentS - earlyS,
        moments,
        search.currentLags.map(({ lagS }) => lagS),
        noise.sigmaA,
        { correlation: 0, intervalS: noise.currentIntervalS },
      ),
    };
  });
  const most = (rows: readonly (readonly number[])[]) => Math.max(...rows.flat());
  const tops = grids.map(({ voltage, current }) => most(voltage) + most(current));
  const points: { offsetS: number; rate: number; weight: number; voltageLagS: number; currentLagS: number }[] = [];
  search.voltageLags.forEach((voltageLag, v) => {
    search.currentLags.forEach((currentLag, c) => {
      // Relative to the best pair of lags of each step.
      const chance = grids.map(({ voltage, current }, s) => {
        const top = tops[s]!;
        const sums = offsets.map((_, m) =>
          current[c]!.reduce((sum, log, k) => sum + Math.exp(voltage[v]![k + m]! + log - top), 0),
        );
        return sums.map((sum, m) => {
          const [before, after] = [sums[m - 1] ?? sum, sums[m + 1] ?? sum];
          return Math.log((before + 2 * sum + after) / 4 + 1e-3);
        });
      });
      const shiftOf = (rate: number, k: number) => (rate * (steps[k]!.currentS - referenceS)) / stepS;
      const between = (logs: readonly number[], at: number) => {
        const held = Math.min(logs.length - 1, Math.max(0, at));
        const low = Math.floor(held);
        return logs[low]! + (held - low) * ((logs[low + 1] ?? 0) - logs[low]!);
      };
      const phases = noise.currentIntervalS / stepS;
      for (const rate of rates) {
        offsets.forEach((offsetS, m) => {
          const own =
            Math.exp(chance.reduce((sum, logs, k) => sum + between(logs, m + shiftOf(rate, k)), 0)) /
            phases ** steps.length;
          let common = 0;
          // Beyond a hundred steps times rates the clocks drift out of phase anyway.
          const moved = steps.length * rates.length > 100 ? 0 : moments;
          for (let k = 0; k < moved; k++) {
            common += grids.reduce((product, { voltage, current }, s) => {
              const at = voltage[v]![k + m + Math.round(shiftOf(rate, s))];
              const both = at === undefined ? 0 : Math.exp(at + current[c]![k]! - tops[s]!);
              return product * (both + 1e-3);
            }, 1);
          }
          points.push({
            offsetS,
            rate,
            weight: voltageLag.weight * currentLag.weight * (own + common / phases),
            voltageLagS: voltageLag.lagS,
            currentLagS: currentLag.lagS,
          });
        });
      }
    });
  });
  const total = points.reduce((sum, { weight }) => sum + weight, 0);
  const mean = (of: (point: (typeof points)[number]) => number) =>
    points.reduce((sum, point) => sum + point.weight * of(point), 0) / total;
  const deviation = (of: (point: (typeof points)[number]) => number) => Math.sqrt(mean((p) => (of(p) - mean(of)) ** 2));
  return {
    referenceS,
    offsetS: mean(({ offsetS }) => offsetS),
    uOffsetS: Math.hypot(
      deviation(({ offsetS }) => offsetS),
      stepS / Math.sqrt(12),
    ),
    rate: mean(({ rate }) => rate),
    uRate: deviation(({ rate }) => rate),
    voltageLagS: mean(({ voltageLagS }) => voltageLagS),
    currentLagS: mean(({ currentLagS }) => currentLagS),
  };
}

describe("fineOffset() beside every offset, rate and pair of lags in turn", () => {
  const times = [10.07, 15.63, 21.22, 26.41, 32.98];
  it.each([
    ["uneven steps", times, {}, 0],
    ["steps all at one phase", [10.1, 15.1, 20.1, 25.1], {}, 0],
    ["a rate, few steps far apart", [10.1, 160.3, 420.7], { largestRate: 2e-4 }, 1e-4],
    [
      "a rate, so many that a common phase is not looked into",
      [10.1, 500.3, 1420.7, 2600.9, 3900.2],
      { largestRate: 2e-4 },
      -1e-4,
    ],
    ["a rate of more than thirty steps either way", [10.1, 9000.3, 22_000.7], { largestRate: 2e-4 }, 1e-4],
    ["a search that ends beside it", times, { centreS: 100.7 }, 0],
  ] as const)("tells the same: %s", (_, timesS, changed, rate) => {
    for (const seed of [1, 2]) {
      const steps = stepsAt(timesS, rate, seed);
      const search = { ...base, ...changed };
      const [found, hand] = [fineOffset(steps, noise, search), byHand(steps, search)];
      for (const name of Object.keys(hand) as (keyof typeof hand)[])
        expect(found[name], `${name}, seed ${seed}`).toBeCloseTo(hand[name], name.endsWith("ate") ? 9 : 6);
    }
  });
});
