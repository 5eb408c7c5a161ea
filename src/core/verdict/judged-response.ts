import type { DisplayBias } from "../detection/display-bias.js";
import type { MarkedResponse } from "../detection/marked-response.js";
import type { SingleDip } from "../detection/single-dips.js";
import type { UnmarkedDips } from "../detection/unmarked-dips.js";
import type { SourceAnswer } from "../estimation/source-from-recording.js";
import type { LoadProfile } from "../profile.js";
import type { Quantity, Uncertain } from "../quantity/quantity.js";
import type { RandomGenerator } from "../statistics/random.js";

/** One load's response with what it was searched at. */
export interface JudgedResponse {
  readonly response: MarkedResponse;
  readonly profile: LoadProfile | null;
  readonly dips: readonly SingleDip[];
  /** Holm-adjusted over the loads of the recording. */
  readonly pValue: number;
  readonly criticalDepthV: number;
  readonly minimumDetectableDepthV: number;
  /** Depth at which it would just have been accepted, as it was switched; the critical one, but where times were searched for. */
  readonly acceptedFromV: number;
  /** Where times were searched for: the true depth that would hardly ever be missed; it bounds a depth that was. */
  readonly surelyDetectableDepthV: number | null;
  /** What the rounding of the display does to the depth. */
  readonly displayBias: DisplayBias;
  /** Whether another load was switched at the same times. */
  readonly indistinct: boolean;
  /** Whether the voltage moves at one end of the on-times and not at the other. */
  readonly edgesDisagree: boolean;
  /** Whether the few dips that were searched for may be levels that shifted, once each. */
  readonly maybeOneStep: boolean;
  /** Whether the level may have wandered at the dips that were searched for, more than elsewhere. */
  readonly maybeWander: boolean;
  /** Whether dips that no mark names do not have the size that its acceptable current makes. */
  readonly unfit: boolean;
  /** Whether the voltage dips on in its rhythm where nobody switched it. */
  readonly rhythmGoesOn: boolean;
  /** Whether it fell off, or stayed on, for good or in half of its switchings. */
  readonly strayed: boolean;
  /** Seconds by which its dips clearly lie after its marks; null where they do not. */
  readonly marksOffS: number | null;
  /** Whether half of its switchings or more clearly lie off their marks, each its own way. */
  readonly besideOwnMarks: boolean;
  /** Depth before any adjustment for having been accepted, and without the doubt of the readings' gain. */
  readonly depth: Quantity<"V">;
  /** p-value and limits as they would be without the doubt that readings share. */
  readonly undoubted: { readonly pValue: number; readonly minimumDetectableDepthV: number };
  /** Doubt that all readings of its on-times share, volts; part of `depth`. */
  readonly commonV: number;
  readonly measuredA: Uncertain | null;
}

export interface AnswerContext {
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly source: SourceAnswer;
  /** Low end of the source resistance for expected dips, ohms; null when nothing vouches for one. */
  readonly lowestResistanceOhm: number | null;
  readonly sourceRegulated: boolean;
  /** No load dips, and the level stands as still as a supply holds it. */
  readonly sourceNotShown: boolean;
  /** Every reading is the same. */
  readonly frozen: boolean;
  /** The meter stood at an end of its range. */
  readonly atEnd: boolean;
  /** The readings are a needle's, and how far its friction holds it back is not known. */
  readonly frictionUntold: boolean;
  /** Dips that no mark accounts for. */
  readonly besideMarks: UnmarkedDips;
  /** Whether somebody said in which rhythm the load was switched. */
  readonly cadenceTold: boolean;
  readonly displayStepV: number | null;
  /** Standard uncertainty of the gain that all readings share, as a share. */
  readonly gainUncertainty: number;
  readonly random: RandomGenerator;
}

/** A p-value from which on a response is so clear that what stands beside its marks does not matter. Chosen. */
const CLEAR = 1e-6;

/** Whether nothing but the load is likely to have made its dips. */
export function areItsOwn(one: JudgedResponse): boolean {
  const { indistinct, edgesDisagree, maybeOneStep, maybeWander, rhythmGoesOn, strayed, marksOffS, besideOwnMarks } =
    one;
  const isOff = marksOffS !== null || besideOwnMarks;
  return !(indistinct || edgesDisagree || maybeOneStep || maybeWander || rhythmGoesOn || strayed || isOff);
}

/** Whether a load responded beyond doubt. */
export function isClear({ pValue }: JudgedResponse): boolean {
  return pValue <= CLEAR;
}
