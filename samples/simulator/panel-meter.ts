import type { RandomSource } from "./random-source.js";

/** What stands between the true voltage and the reading that is written down. */
export interface SimulatedMeter {
  readonly rateHz: number;
  /** First-order time constant of pointer or filter; 0 for none. */
  readonly lagS: number;
  /** Standard deviation of the part that is new in every reading. */
  readonly whiteV: number;
  /** Standard deviation and correlation time of the part that lingers from reading to reading. */
  readonly lingeringV: number;
  readonly lingeringTimeS: number;
  /** Growth of the slow wander: volts after one second, growing with the square root of time. */
  readonly wanderVPerSqrtS: number;
  /** Step of the display; 0 for none. */
  readonly displayStepV: number;
  /** Share of readings that are wild, and the standard deviation of a wild reading. */
  readonly wildShare: number;
  readonly wildV: number;
  /** Stretches without any reading, `[startS, endS)`. */
  readonly gaps: readonly (readonly [number, number])[];
}

export interface Readings {
  readonly timesS: Float64Array;
  readonly values: Float64Array;
}

/** What the meter shows of a true signal on a regular axis of `stepS` seconds. */
export function readThroughMeter(
  trueValues: Float64Array,
  stepS: number,
  meter: SimulatedMeter,
  random: RandomSource,
): Readings {
  const shown = lagged(trueValues, stepS, meter.lagS);
  const intervalS = 1 / meter.rateHz;
  const durationS = (trueValues.length - 1) * stepS;
  const linger = Math.exp(-intervalS / Math.max(meter.lingeringTimeS, 1e-9));
  let lingeringV = meter.lingeringV * random.normal();
  let wanderV = 0;

  const timesS: number[] = [];
  const values: number[] = [];
  for (let count = 0; count * intervalS <= durationS + 1e-9; count++) {
    const timeS = count * intervalS;
    lingeringV = linger * lingeringV + Math.sqrt(1 - linger * linger) * meter.lingeringV * random.normal();
    wanderV += meter.wanderVPerSqrtS * Math.sqrt(intervalS) * random.normal();
    const whiteV = meter.whiteV * random.normal();
    const wildV = random.uniform() < meter.wildShare ? meter.wildV * random.normal() : 0;
    if (meter.gaps.some(([startS, endS]) => timeS >= startS && timeS < endS)) continue;
    const readingV =
      shown[Math.min(shown.length - 1, Math.round(timeS / stepS))]! + lingeringV + wanderV + whiteV + wildV;
    timesS.push(timeS);
    values.push(meter.displayStepV > 0 ? Math.round(readingV / meter.displayStepV) * meter.displayStepV : readingV);
  }
  return { timesS: Float64Array.from(timesS), values: Float64Array.from(values) };
}

function lagged(values: Float64Array, stepS: number, lagS: number): Float64Array {
  if (lagS <= 0) return values;
  const share = 1 - Math.exp(-stepS / lagS);
  const result = new Float64Array(values.length);
  let level = values[0]!;
  values.forEach((value, index) => {
    level += share * (value - level);
    result[index] = level;
  });
  return result;
}
