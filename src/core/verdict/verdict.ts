import type { Verdict, VerdictReason } from "../analysis.js";

/** What a verdict on one load rests on; depths in volts. */
export interface Evidence {
  /** Family-wise adjusted probability of at least this response from noise alone. */
  readonly pValue: number;
  readonly falseAlarmRate: number;
  readonly depthV: number;
  /** One-sided upper bound of the depth: exceeded by the true one with at most the false-alarm rate. */
  readonly upperDepthV: number;
  readonly minimumDetectableDepthV: number;
  /** Part of that value that is the display's rounding: more switchings do not lower it. */
  readonly displayShareV: number;
  /** Dip of the lowest acceptable current at the low end of the source resistance; null when not known. */
  readonly expectedDepthV: number | null;
  readonly switchingCount: number;
  /** Every reading is the same: the meter has not shown that it moves. */
  readonly frozen: boolean;
  /** Depth of the deepest dip that stands away from every mark, volts; 0 for none. */
  readonly besideMarksV: number;
  /** The response is so clear that dips beside the marks do not matter. */
  readonly isClear: boolean;
  /** Another load was switched at the same times, so that nothing tells which of them answered. */
  readonly indistinct: boolean;
  /** Whether the load was switched at all is known to nobody. */
  readonly switchingUntold: boolean;
  /** The load fell off, or stayed on, for good or in half of its switchings. */
  readonly strayed: boolean;
  /** All its dips lie further from its marks than was told of these. */
  readonly marksOff: boolean;
  /** Half of its switchings or more clearly lie off their marks, each its own way. */
  readonly besideOwnMarks: boolean;
  /** Some switchings show nothing while others show all of the response. */
  readonly switchingsDisagree: boolean;
  /** The few dips that were searched for may be levels that shifted, once each. */
  readonly maybeOneStep: boolean;
  /** The level may have wandered at the dips that were searched for, more than elsewhere. */
  readonly maybeWander: boolean;
  /** Dips that no mark names do not have the size that the load's acceptable current makes. */
  readonly unfit: boolean;
  /** The voltage dips on in the rhythm of the switchings where nobody switched the load. */
  readonly rhythmGoesOn: boolean;
  readonly sourceRegulated: boolean;
  /** No load dips, and the level stands as still as a supply holds it. */
  readonly sourceNotShown: boolean;
  /** The meter stood at an end of its range, where it shows dips too shallow or not at all. */
  readonly atEnd: boolean;
  /** The readings are a needle's, and how far its friction holds it back is not known. */
  readonly frictionUntold: boolean;
  /** Without the doubt that readings share it would have responded, or a missing dip would have been told. */
  readonly movementDoubtful: boolean;
}

/** A verdict, its reason, and how many switchings more would settle it. */
export interface Judgement {
  readonly verdict: Verdict;
  readonly because: VerdictReason;
  readonly moreSwitchings: number | null;
}

/**
 * Judges one load.
 *
 * `responded` needs a p-value at or below the false-alarm rate, from switchings that agree, and that are no level that shifted
 * once, nor of a size that does not fit the load, where nobody marked them, whose rhythm does not go on by itself, beyond the doubt that the readings share, and either clear or without dips half as deep beside the marks.
 * `no response` may be said only when the minimum detectable value is at or below the expected dip, the depth's upper bound
 * lies below that dip, no dip of that size stands beside the marks, the meter did not stand at an end of its range, neither
 * unknown friction nor a doubt that the readings share may have hidden it, and something shows that a battery feeds the bus.
 * Everything else is `undecided`. Source: ISO 11843-1 (critical and minimum detectable value).
 */
export function judge(evidence: Evidence): Judgement {
  const { pValue, falseAlarmRate, depthV, expectedDepthV, minimumDetectableDepthV, upperDepthV } = evidence;
  const unfit = unfitBecause(evidence);
  if (unfit !== null) return undecided(unfit, null);
  if (pValue <= falseAlarmRate && depthV > 0) return judgeSignificant(evidence);
  if (evidence.atEnd) return undecided("meter-at-end", null);
  if (evidence.movementDoubtful) return undecided("movement-doubtful", null);
  if (upperDepthV < 0) return undecided("wrong-direction", null);
  if (evidence.switchingUntold) return undecided("never-switched", null);
  if (expectedDepthV === null) {
    const promising = depthV > 0 ? moreFor(minimumDetectableDepthV / depthV, evidence.switchingCount) : null;
    return undecided("no-expected-depth", promising);
  }
  if (minimumDetectableDepthV > expectedDepthV) {
    if (evidence.displayShareV > 0.8 * expectedDepthV) return undecided("display-too-coarse", null);
    return undecided("too-noisy", moreFor(minimumDetectableDepthV / expectedDepthV, evidence.switchingCount));
  }
  if (evidence.besideMarksV > expectedDepthV / 2) return undecided("dips-beside-marks", evidence.switchingCount);
  if (upperDepthV < expectedDepthV) {
    if (evidence.frictionUntold) return undecided("friction-untold", null);
    if (evidence.sourceNotShown) return undecided("source-not-shown", null);
    return { verdict: "no response", because: "excludes-acceptable", moreSwitchings: null };
  }
  return undecided("between", Math.max(1, evidence.switchingCount));
}

/** A dip that noise would seldom make: whether the load made it. */
function judgeSignificant(evidence: Evidence): Judgement {
  const more = Math.max(2, evidence.switchingCount);
  if (evidence.switchingsDisagree) return undecided("dips-disagree", more);
  if (evidence.besideOwnMarks) return undecided("dips-beside-marks", more);
  if (evidence.maybeOneStep) return undecided("one-step", more);
  if (evidence.maybeWander) return undecided("maybe-wander", null);
  if (evidence.unfit) return undecided("dips-unfit", null);
  if (evidence.rhythmGoesOn) return undecided("rhythm-goes-on", null);
  if (!evidence.isClear && evidence.besideMarksV > evidence.depthV / 2) return undecided("dips-beside-marks", more);
  return { verdict: "responded", because: "above-critical", moreSwitchings: null };
}

/** Why the recording tells nothing of this load, response or not; null where it may. */
function unfitBecause({ sourceRegulated, frozen, indistinct, marksOff, strayed }: Evidence): VerdictReason | null {
  if (sourceRegulated) return "source-regulated";
  if (frozen) return "display-too-coarse";
  if (indistinct) return "load-not-told";
  if (marksOff) return "marks-off";
  // The cause must be found first: switching on again is no advice after a breaker may have tripped.
  return strayed ? "not-as-marked" : null;
}

function undecided(because: VerdictReason, moreSwitchings: number | null): Judgement {
  return { verdict: "undecided", because, moreSwitchings };
}

const MOST_SWITCHINGS = 60;

/** Switchings more that shrink the uncertainty by this factor; it falls with the square root of their number. */
function moreFor(factor: number, switchingCount: number): number | null {
  const more = Math.max(1, Math.ceil(switchingCount * (factor * factor - 1)));
  return more <= MOST_SWITCHINGS ? more : null;
}
