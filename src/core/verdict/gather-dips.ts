import type { Dip, LoadAnswer, ResistanceAt } from "../analysis.js";
import type { OnTime } from "../detection/switching-template.js";
import { type MeasuredDip, type MeasuredSteps, measuredDip } from "../estimation/dip-resistances.js";
import { propagatedRatio } from "../estimation/propagated-quantity.js";
import type { SourceAnswer } from "../estimation/source-from-recording.js";
import { growthToStatedTime, STATED_TIME_S } from "../estimation/stated-time.js";
import { normalQuantity } from "../quantity/interval.js";
import type { Quantity, Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { asAccepted } from "./as-accepted.js";
import type { JudgedResponse } from "./judged-response.js";
import { withCommonDoubt, withSharedGain } from "./shared-doubt.js";

/** Every switching of every load that responded, in order of time, with its own depth, current and resistance. */
export function gatherDips(
  judged: readonly JudgedResponse[],
  loads: readonly LoadAnswer[],
  source: SourceAnswer,
  steps: MeasuredSteps | null,
  context: { readonly gainUncertainty: number; readonly random: RandomGenerator },
): readonly Dip[] {
  const { gainUncertainty, random } = context;
  const uOnsetS = 0.3;
  const dips = judged.flatMap((one) => {
    const answer = loads.find(({ id }) => id === one.response.id);
    if (answer?.verdict !== "responded" || answer.depth === null) return [];
    const coldFactor = answer.coldDepth === null ? 1 : 1 + one.response.shape.inrush;
    const accepted = answer.depth;
    const plain = withSharedGain(one.depth, gainUncertainty);
    return one.dips.map(({ onTime, depthV, uDepthV, referenceV }): Dip => {
      const measured = measuredDip(steps, onTime.onsetS, uOnsetS);
      if (measured !== null) {
        // The depth of one measured step: the common doubt is that share of it.
        const doubt = rootSumSquares(gainUncertainty, one.commonV / measured.depth.value);
        return measuredDipOf(measured, onTime, { referenceV, load: answer.id, doubt });
      }
      const own = normalQuantity(depthV, uDepthV, "V", "generalized-least-squares");
      const doubted = withSharedGain(withCommonDoubt(own, one.commonV), gainUncertainty);
      const depth = asAccepted(doubted, 1, accepted, plain);
      const resistance = resistanceOf({ value: depthV, u: depth.u }, growthToStatedTime(one.response.shape), answer, {
        source,
        random,
        accepted,
        plain,
      });
      return {
        onsetS: onTime.onsetS,
        releaseS: onTime.releaseS,
        durationS: onTime.releaseS - onTime.onsetS,
        depth,
        residualV: referenceV - depthV * coldFactor,
        load: answer.id,
        current: answer.current,
        resistance,
        resistances: resistance === null ? [] : [resistance],
      };
    });
  });
  return dips.sort((a, b) => a.onsetS - b.onsetS);
}

/** A dip whose depth was read directly at its step, for the current was measured with it. */
function measuredDipOf(
  { depth, current, resistances: plain }: MeasuredDip,
  onTime: OnTime,
  { referenceV, load, doubt }: { referenceV: number; load: string; doubt: number },
): Dip {
  const resistances = plain.map(({ atS, resistance }) => ({
    atS,
    resistance: withSharedGain(resistance, doubt),
  }));
  return {
    onsetS: onTime.onsetS,
    releaseS: onTime.releaseS,
    durationS: onTime.releaseS - onTime.onsetS,
    depth: withSharedGain(normalQuantity(depth.value, depth.u, "V", "measured-current"), doubt),
    residualV: referenceV - depth.value,
    load,
    current: normalQuantity(current.value, current.u, "A", "measured-current"),
    resistance: resistances[0] ?? null,
    resistances,
  };
}

/** Source resistance from one dip; only where the current is known without using that dip. */
function resistanceOf(
  depth: Uncertain,
  growth: Uncertain,
  answer: LoadAnswer,
  { source, random, accepted, plain }: DepthContext,
): ResistanceAt | null {
  const { current } = answer;
  const independent =
    current !== null &&
    (current.route === "measured-current" || (source.known && source.load === answer.id && answer.reference));
  if (!independent || current === null || !(current.value > 0)) return null;
  const factor = { value: 1 + growth.value, u: growth.u };
  const ratio = { numerator: depth, divisor: current, factor };
  const resistance = propagatedRatio(ratio, current.route, random);
  return { atS: STATED_TIME_S, resistance: asAccepted(resistance, factor.value / current.value, accepted, plain) };
}

interface DepthContext {
  readonly source: SourceAnswer;
  readonly random: RandomGenerator;
  /** Depth of the load as it is told, and before it was corrected for having been accepted. */
  readonly accepted: Quantity<"V">;
  readonly plain: Quantity<"V">;
}
