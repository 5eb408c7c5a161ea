import type { RecordingSummary } from "./analysis.js";
import { displayNoiseV } from "./noise/display-noise.js";
import { displayStepV } from "./noise/display-step.js";
import type { Warning } from "./notes.js";
import type { BusProfile } from "./profile.js";
import { gapsIn } from "./series/gaps.js";
import { meterEndV } from "./series/meter-end.js";
import type { Recording } from "./series/recording.js";
import { medianIntervalS } from "./series/working-series.js";

/** What can be said of a recording before anything is judged. */
export interface RecordingFacts {
  readonly summary: RecordingSummary;
  readonly displayStepV: number | null;
  /** Noise that the readings have before the display rounds them; 0 where there is no display step. */
  readonly ownNoiseV: number;
  /** Mean voltage that no battery of this kind holds by itself: a charger or generator carries the bus. */
  readonly regulatedAboveV: number | null;
  /** Every reading is the same: the meter has not shown that it moves at all. */
  readonly frozen: boolean;
  /** The readings are a needle's, and the profile does not say how far its friction holds it back. */
  readonly frictionUntold: boolean;
  /** Voltage at which the meter could not go on; null where it never stood at an end of its range. */
  readonly meterEndV: number | null;
  readonly warnings: readonly Warning[];
}

/** Lead-acid cell voltage above which something charges it. Common practice, no source: 26.5 V on 12 cells. */
const CHARGING_V_PER_CELL = 26.5 / 12;

/**
 * Describes a recording and its doubts.
 *
 * @throws RangeError for fewer than two readings, times that go back, or a reading that is not finite.
 */
export function recordingFacts(recording: Recording, profile: BusProfile | null): RecordingFacts {
  const { timesS, voltagesV } = recording;
  const n = timesS.length;
  if (n < 2 || voltagesV.length !== n) {
    throw new RangeError(`Cannot judge a recording: at least 2 readings with a time each are needed, got ${n}`);
  }
  checkReadings(timesS, voltagesV);
  const { lowestV, highestV, meanV } = rangeOf(voltagesV);
  const gaps = gapsIn(timesS);
  const intervalS = medianIntervalS(timesS);
  const regulatedAboveV = regulatedLimitV(profile, meanV);
  const stepV = displayStepV(voltagesV);
  const endV = meterEndV(voltagesV, stepV);
  const warnings: Warning[] = [];
  if (gaps.length > 0 && gaps.length <= 3) for (const gap of gaps) warnings.push({ code: "gap", ...gap });
  if (gaps.length > 3) {
    const totalS = gaps.reduce((total, gap) => total + gap.endS - gap.startS, 0);
    warnings.push({ code: "gaps", gapCount: gaps.length, totalS });
  }
  if (endV !== null) warnings.push({ code: "meter-at-end", atV: endV });
  if (n < 50) warnings.push({ code: "few-readings", readingCount: n });
  if (regulatedAboveV !== null) {
    warnings.push({ code: "source-regulated", meanV, limitV: regulatedAboveV });
  }
  return {
    summary: {
      sampleCount: n,
      durationS: timesS[n - 1] - timesS[0],
      sampleRateHz: intervalS > 0 ? 1 / intervalS : 0,
      gaps,
      lowestV,
      highestV,
    },
    displayStepV: stepV,
    ownNoiseV: stepV === null ? 0 : displayNoiseV(recording, stepV),
    regulatedAboveV,
    meterEndV: endV,
    frozen: lowestV === highestV,
    // Only a needle that was filmed tells an uncertainty of its own with each reading.
    frictionUntold: recording.readingUncertaintiesV !== undefined && profile?.meter?.frictionV === undefined,
    warnings,
  };
}

/** @throws RangeError for a reading that is not finite, or a time before the one before it. */
function checkReadings(timesS: Float64Array, voltagesV: Float64Array): void {
  const first = Math.min(firstNotFinite(timesS), firstNotFinite(voltagesV));
  const back = firstBack(timesS);
  if (first < timesS.length && first <= back) {
    throw new RangeError(`Cannot judge a recording: every reading must be finite, reading ${first} is not`);
  }
  if (back < timesS.length) {
    throw new RangeError(`Cannot judge a recording: times must not go back, they do at reading ${back}`);
  }
}

/** Index of the first value that is not finite; the length where all are. Small loops by themselves run four times as fast. */
function firstNotFinite(values: Float64Array): number {
  let i = 0;
  // Below infinity in size, which is also false of what is no number.
  while (i < values.length && Math.abs(values[i]) < Number.POSITIVE_INFINITY) i += 1;
  return i;
}

/** Index of the first time before the one before it; the length where there is none. */
function firstBack(timesS: Float64Array): number {
  for (let i = 1; i < timesS.length; i++) if (timesS[i] < timesS[i - 1]) return i;
  return timesS.length;
}

/** Lowest, highest and mean of finite voltages. */
function rangeOf(voltagesV: Float64Array) {
  let lowestV = voltagesV[0];
  let highestV = voltagesV[0];
  let sum = 0;
  for (let i = 0; i < voltagesV.length; i++) {
    const v = voltagesV[i];
    if (v < lowestV) lowestV = v;
    else if (v > highestV) highestV = v;
    sum += v;
  }
  return { lowestV, highestV, meanV: sum / voltagesV.length };
}

/**
 * The limit that the mean voltage exceeds, or null. Known for a lead-acid battery of the profile; without a profile a bus
 * between 26.5 and 30 V is taken for a charged 24 V lead-acid one.
 */
function regulatedLimitV(profile: BusProfile | null, meanV: number): number | null {
  const battery = profile?.battery;
  if (battery?.chemistry === "lead-acid" && battery.cells !== undefined) {
    const limitV = CHARGING_V_PER_CELL * battery.cells;
    return meanV > limitV ? limitV : null;
  }
  if (battery?.chemistry !== undefined) return null;
  return meanV > 26.5 && meanV < 30 ? 26.5 : null;
}
