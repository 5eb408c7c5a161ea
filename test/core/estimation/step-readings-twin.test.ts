import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { baselineBefore } from "../../../src/core/estimation/baseline.js";
import type { CurrentStep } from "../../../src/core/estimation/current-step.js";
import {
  firstSettled,
  movedAfter,
  movedBefore,
  onsetFromVoltage,
  type StepSetting,
} from "../../../src/core/estimation/step-readings.js";

const SIGMA_V = 0.01;
const CASES = 4000;

/** Readings at uneven times that change by up to fifteen times the noise from one to the next, most of them hardly. */
function drawnCase(seed: number) {
  const random = randomSource(seed);
  const between = (low: number, high: number) => low + (high - low) * random.uniform();
  const count = 4 + Math.floor(20 * random.uniform());
  const timesS: number[] = [];
  const voltagesV: number[] = [];
  for (let k = 0; k < count; k++) {
    const intervalS = between(0.02, random.uniform() < 0.1 ? 2 : 0.5);
    timesS.push((timesS.at(-1) ?? 100) + intervalS);
    const changes = random.uniform() < 0.5 ? between(-0.3, 0.3) : between(-15, 15);
    voltagesV.push((voltagesV.at(-1) ?? 24) + SIGMA_V * changes);
  }
  const startS = timesS[0]! - 0.5;
  const spanS = timesS.at(-1)! + 0.5 - startS;
  const inOrder = [0, 0, 0, 0, 0].map(() => startS + spanS * random.uniform()).sort((a, b) => a - b);
  const [quietFromS, beforeS, onsetS, afterS, quietToS] = inOrder as [number, number, number, number, number];
  // A level may end at the very time of a reading.
  const atReading = timesS.find((t) => t >= afterS);
  const step: CurrentStep = {
    beforeS,
    afterS,
    onsetS,
    uOnsetS: random.uniform() < 0.1 ? 0 : 0.1,
    beforeA: 0,
    afterA: 10,
    deltaA: 10,
    uDeltaA: 0.01,
    quietFromS,
    quietToS: random.uniform() < 0.2 && atReading !== undefined ? atReading : quietToS,
  };
  const setting: StepSetting = {
    timesS: Float64Array.from(timesS),
    voltagesV: Float64Array.from(voltagesV),
    current: { timesS: new Float64Array(0), currentsA: new Float64Array(0) },
    quantumV: 0,
    sigmaV: SIGMA_V,
    correlationS: 0.2,
    quantumA: 0,
    lagS: random.uniform() < 0.5 ? 0 : 0.1,
    gainFraction: 0,
    atS: [1],
  };
  const base = {
    level: voltagesV[0]! + SIGMA_V * between(-4, 4),
    slope: SIGMA_V * between(-1, 1),
    uLevel: SIGMA_V * random.uniform(),
    uSlope: 0,
    covariance: 0,
    count: 5,
  };
  return { setting, step, base, random };
}

/** Every reading as one object, to be looked at one by one. */
const readingsOf = ({ timesS, voltagesV }: StepSetting) =>
  Array.from(timesS, (timeS, k) => ({ k, timeS, valueV: voltagesV[k]!, jumpV: voltagesV[k]! - voltagesV[k - 1]! }));

describe("step readings beside their rules, reading by reading", () => {
  it("onsetFromVoltage(): the largest of three jumps or more, eight times the noise and half of the whole change", () => {
    let told = 0;
    for (let seed = 1; seed <= CASES; seed++) {
      const { setting, step } = drawnCase(seed);
      const readings = readingsOf(setting);
      // From the first reading not before the old level's last one, up to the first one of the new level.
      const jumps = readings.filter(({ k, timeS }) => {
        return k >= 1 && timeS >= step.beforeS && !(readings[k - 1]!.timeS >= step.afterS);
      });
      const largest = [...jumps].sort((a, b) => Math.abs(b.jumpV) - Math.abs(a.jumpV))[0];
      const found = onsetFromVoltage(setting, step);
      const wholeV = jumps.reduce((sum, { jumpV }) => sum + jumpV, 0);
      const isClear =
        jumps.length >= 3 &&
        step.uOnsetS > 0 &&
        Math.abs(largest!.jumpV) >= 8 * SIGMA_V &&
        Math.abs(largest!.jumpV) >= Math.abs(wholeV) / 2;
      if (!isClear) {
        expect(found, `seed ${seed}`).toEqual(step);
        continue;
      }
      told += 1;
      const earlierS = readings[largest!.k - 1]!.timeS;
      const gapS = largest!.timeS - earlierS;
      expect(found, `seed ${seed}`).toEqual({
        ...step,
        beforeS: Math.max(step.beforeS, earlierS),
        afterS: Math.min(step.afterS, largest!.timeS),
        onsetS: expect.closeTo((earlierS + largest!.timeS) / 2, 9),
        uOnsetS: expect.closeTo(gapS / Math.sqrt(12), 9),
      });
    }
    expect(told).toBeGreaterThan(200);
  });

  it("firstSettled(): goes on while the next reading lies five times the noise farther off, beyond 1 / 0.7, within 2 s", () => {
    const seen = { told: 0, moved: 0, none: 0 };
    for (let seed = 1; seed <= CASES; seed++) {
      const { setting, step, base } = drawnCase(seed);
      const readings = readingsOf(setting);
      const after = readings.filter(({ timeS }) => timeS >= Math.max(step.afterS, step.onsetS + 4 * setting.lagS));
      const goesOn = after.map(({ k, valueV }) => {
        const next = readings[k + 1];
        if (next === undefined || next.timeS > step.onsetS + 2) return false;
        const [hereV, thereV] = [valueV - base.level, next.valueV - base.level];
        return Math.abs(thereV) - Math.abs(hereV) >= 5 * SIGMA_V && hereV / thereV < 0.7;
      });
      const at = goesOn.indexOf(false);
      const settled = at >= 0 && after[at]!.timeS <= step.quietToS ? after[at]!.k : null;
      expect(firstSettled(setting, step, base), `seed ${seed}`).toBe(settled);
      seen[settled === null ? "none" : at > 0 ? "moved" : "told"] += 1;
    }
    expect(Math.min(seen.told, seen.moved, seen.none)).toBeGreaterThan(100);
  });

  it("movedAfter(): two readings or more stay, then one jump makes 0.7 of what departs by eight uncertainties, within 2 s", () => {
    const seen = { yes: 0, no: 0 };
    for (let seed = 1; seed <= CASES; seed++) {
      const { setting, step, base } = drawnCase(seed);
      // Little unrest before the jump, else hardly any reading stays.
      const voltagesV = setting.voltagesV.map((v, k) => {
        return base.level + (seed % 7 < k ? 1 : 0.1) * (v - base.level);
      });
      const own = { ...setting, voltagesV };
      const heard = readingsOf(own)
        .filter(({ timeS }) => timeS >= step.afterS && timeS <= Math.min(step.quietToS, step.onsetS + 2))
        .map((one) => ({
          ...one,
          departsV: Math.abs(one.valueV - (base.level + base.slope * (one.timeS - step.onsetS))),
        }));
      const first = heard.findIndex(({ departsV }) => departsV > 8 * Math.hypot(SIGMA_V, base.uLevel));
      const expected = first >= 2 && Math.abs(heard[first]!.jumpV) > 0.7 * heard[first]!.departsV;
      expect(movedAfter(own, step, base), `seed ${seed}`).toBe(expected);
      seen[expected ? "yes" : "no"] += 1;
    }
    expect(Math.min(seen.yes, seen.no)).toBeGreaterThan(20);
  });

  it("movedBefore(): the last reading departs from the line before it by six uncertainties and 0.3 of the whole", () => {
    const seen = { yes: 0, no: 0 };
    for (let seed = 1; seed <= CASES; seed++) {
      const { setting, step } = drawnCase(seed);
      const { timesS, voltagesV } = setting;
      const last = timesS.findLastIndex((timeS) => timeS <= step.beforeS);
      const firstAfter = timesS.findIndex((timeS) => timeS >= step.afterS);
      if (last < 0 || firstAfter < 0) continue;
      const line =
        last >= 1 && timesS[last - 1]! >= step.quietFromS
          ? baselineBefore(
              timesS,
              voltagesV,
              { fromS: (step.quietFromS + step.beforeS) / 2, toS: timesS[last - 1]!, referenceS: step.onsetS },
              { sigma: SIGMA_V, correlationS: setting.correlationS },
            )
          : null;
      let expected = false;
      if (line !== null) {
        const sinceS = timesS[last]! - step.onsetS;
        const at = line.level + line.slope * sinceS;
        const departsV = voltagesV[last]! - at;
        const uV = Math.sqrt(SIGMA_V ** 2 + line.uLevel ** 2 + (line.uSlope * sinceS) ** 2);
        expected = Math.abs(departsV) > 6 * uV && departsV / (voltagesV[firstAfter]! - at) > 0.3;
      }
      expect(movedBefore(setting, step, last, firstAfter), `seed ${seed}`).toBe(expected);
      seen[expected ? "yes" : "no"] += 1;
    }
    expect(Math.min(seen.yes, seen.no)).toBeGreaterThan(20);
  });
});
