import type { TwoCurrentFigure } from "../analysis.js";
import { displayStepV } from "../noise/display-step.js";
import { normalQuantity } from "../quantity/interval.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import { readingNoise } from "../statistics/reading-noise.js";
import { type CurrentStep, currentNoise, currentSteps } from "./current-step.js";
import { levelAt } from "./level-at.js";
import { CLAMP_GAIN_FRACTION } from "./measured-current.js";
import {
  type DischargeLevel,
  iec60896Schedule,
  iec61960Schedule,
  type TwoCurrentSchedule,
  twoCurrentResistance,
} from "./two-current-resistance.js";

/** How the two levels of a standard follow each other, seconds of rest between them. */
interface Method {
  readonly standard: TwoCurrentFigure["standard"];
  readonly schedule: (capacityAh: number) => TwoCurrentSchedule;
  readonly leastRestS: number;
  readonly mostRestS: number;
}

/** Source: as {@link iec60896Schedule} and {@link iec61960Schedule}; the rest of 2 to 5 minutes from memory. */
const METHODS: readonly Method[] = [
  { standard: "IEC 60896-21", schedule: iec60896Schedule, leastRestS: 120, mostRestS: 300 },
  { standard: "IEC 61960-3", schedule: iec61960Schedule, leastRestS: 0, mostRestS: 0 },
];

/** The second current must be this many times the first; otherwise their difference tells too little. */
const LEAST_RATIO = 1.5;

/**
 * Two-current figures by the rules of the standards, of every method whose two levels the recording holds for the stated
 * times; the first such pair of each. Currents count from zero of the clamp, so that its zero must be right.
 */
export function twoCurrentFigures(
  recording: Recording,
  dischargeSign: 1 | -1 | null,
  capacityAh: number | undefined,
): readonly TwoCurrentFigure[] {
  if (recording.current === undefined || dischargeSign === null) return [];
  const levels = currentSteps(recording.current).filter((step) => isDischarge(step, dischargeSign));
  return METHODS.flatMap((method): readonly TwoCurrentFigure[] => {
    // The times do not hang on the capacity, only the currents do.
    const { firstS, secondS, firstA, secondA } = method.schedule(capacityAh ?? 1);
    for (const second of levels) {
      const first = levels.find((one) => follows(method, one, second));
      if (first === undefined || heldS(first) < firstS || heldS(second) < secondS) continue;
      const [a, b] = [levelOf(recording, first, firstS), levelOf(recording, second, secondS)];
      if (a === null || b === null || !(b.currentA.value > LEAST_RATIO * a.currentA.value)) continue;
      const asStandard =
        capacityAh === undefined ? null : within(a.currentA.value, firstA) && within(b.currentA.value, secondA);
      return [figure(method.standard, a, b, asStandard)];
    }
    return [];
  });
}

function figure(
  standard: TwoCurrentFigure["standard"],
  first: DischargeLevel,
  second: DischargeLevel,
  levelsAsStandard: boolean | null,
): TwoCurrentFigure {
  const { resistanceOhm, shortCircuitA } = twoCurrentResistance(first, second);
  // The gain of the clamp is common to both currents.
  const withGain = ({ value, u }: Uncertain) => rootSumSquares(u, CLAMP_GAIN_FRACTION * value);
  return {
    standard,
    firstA: normalQuantity(first.currentA.value, withGain(first.currentA), "A", "measured-current"),
    secondA: normalQuantity(second.currentA.value, withGain(second.currentA), "A", "measured-current"),
    levelsAsStandard,
    resistance: normalQuantity(resistanceOhm.value, withGain(resistanceOhm), "Ohm", "two-current"),
    shortCircuit:
      standard === "IEC 60896-21"
        ? normalQuantity(shortCircuitA.value, withGain(shortCircuitA), "A", "two-current")
        : null,
  };
}

/**
 * Whether a step leads up to a discharge, and not back to a rest that noise or the clamp's zero put beside nothing; after
 * charging, to one of a larger current than the charging.
 */
function isDischarge({ deltaA, afterA }: CurrentStep, dischargeSign: 1 | -1): boolean {
  const riseA = dischargeSign * deltaA;
  return riseA > 0 && dischargeSign * afterA > 0.5 * riseA;
}

/** Whether the second level comes after the first with the rest that the method asks for. */
function follows({ leastRestS, mostRestS }: Method, first: CurrentStep, second: CurrentStep): boolean {
  const restS = second.onsetS - first.quietToS;
  const slackS = second.afterS - second.beforeS;
  return second.onsetS > first.onsetS && restS >= leastRestS - slackS && restS <= mostRestS + slackS;
}

function heldS({ onsetS, quietToS }: CurrentStep): number {
  return quietToS - onsetS;
}

/** Current, counted positive, and terminal voltage at a time after the step; null where no readings stand near it. */
function levelOf(recording: Recording, step: CurrentStep, atS: number): DischargeLevel | null {
  const { timesS, voltagesV } = recording;
  const current = recording.current!;
  const place = { originS: step.onsetS, atS, startS: step.afterS, endS: step.quietToS };
  const noiseV = readingNoise(timesS, voltagesV);
  const volts = levelAt(timesS, voltagesV, place, noiseV.correlationS);
  const amperes = levelAt(current.timesS, current.currentsA, place, 0);
  if (volts === null || amperes === null) return null;
  const { sigmaA, quantumA } = currentNoise(current.currentsA);
  const uDisplayV = (displayStepV(voltagesV) ?? 0) / Math.sqrt(12);
  return {
    terminalV: {
      value: volts.level,
      u: rootSumSquares(noiseV.sigma * volts.noiseFactor, uDisplayV, volts.slope * step.uOnsetS),
    },
    currentA: {
      value: Math.abs(amperes.level),
      u: rootSumSquares(sigmaA * amperes.noiseFactor, quantumA / Math.sqrt(12)),
    },
  };
}

function within(value: number, [low, high]: readonly [number, number]): boolean {
  return value >= 0.95 * low && value <= 1.05 * high;
}
