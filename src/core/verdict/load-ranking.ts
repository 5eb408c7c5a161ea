import { currentAtVoltage, loadLaw } from "../estimation/load-kind.js";
import type { SourceAnswer } from "../estimation/source-from-recording.js";
import { RATING_TOLERANCE_FRACTION } from "../estimation/source-resistance.js";
import type { Assumption, RankedLoad } from "../notes.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import { normalDensity } from "../statistics/distribution.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { power, rootSumSquares, squared } from "../statistics/portable-power.js";
import type { JudgedResponse } from "./judged-response.js";

/** Dips that nobody said the load of. */
export interface UntoldDips {
  /** Settled depth, volts. */
  readonly depth: Uncertain;
  /** Level before the dips, volts. */
  readonly busV: number;
  /** Current right after switching on beyond the settled one, as a share of it; null where no shape was fitted. */
  readonly inrush: Uncertain | null;
}

/** Weight, before the readings, of a load that the profile does not name. Chosen, not measured. */
const UNNAMED = 0.1;
/** Range of its dips, evenly on a logarithmic scale, volts. Chosen, not measured. */
const UNNAMED_FROM_V = 0.005;
const UNNAMED_TO_V = 1;

/**
 * Ranks the loads of a profile by how well their size and shape fit dips that nobody said the load of, likeliest first.
 *
 * Each load's dip is its rated current (else the middle of what is acceptable) through the source resistance; a heater
 * starts cold, the others do not. Empty where no load has a current or the resistance is not known. The probabilities are
 * as good as the profile; a ranking never makes a verdict.
 *
 * Source: Bayes' theorem over the loads.
 */
export function rankLoads(
  dips: UntoldDips,
  loads: readonly LoadProfile[],
  resistanceOhm: Uncertain,
): readonly RankedLoad[] {
  const rated = loads.flatMap((load) => {
    const current = expectedCurrent(load, dips.busV);
    return current === null ? [] : [{ load, current }];
  });
  if (rated.length === 0) return [];
  const scores = rated.map(({ load, current }) => {
    const depthV = current.value * resistanceOhm.value;
    const u = rootSumSquares(current.u * resistanceOhm.value, current.value * resistanceOhm.u, dips.depth.u);
    const size = normalDensity((dips.depth.value - depthV) / u) / u;
    return { load: load.id, score: ((1 - UNNAMED) / rated.length) * size * shapeLikelihood(load, dips.inrush) };
  });
  const inside = dips.depth.value > UNNAMED_FROM_V && dips.depth.value < UNNAMED_TO_V;
  const even = inside ? 1 / (dips.depth.value * logarithm(UNNAMED_TO_V / UNNAMED_FROM_V)) : 1e-3;
  const unnamed = UNNAMED * even * mixedShape(dips.inrush);
  const total = scores.reduce((sum, { score }) => sum + score, unnamed);
  return scores
    .map(({ load, score }) => ({ load, probability: score / total }))
    .sort((a, b) => b.probability - a.probability);
}

/** Current in amperes that a load should draw at `busV` volts, by its rating or what is acceptable; null where neither is told. */
export function expectedCurrent({ kind, rated, acceptA }: LoadProfile, busV: number): Uncertain | null {
  if (rated !== undefined) {
    const value = currentAtVoltage(loadLaw(kind, rated), busV);
    return { value, u: (value * (rated.toleranceFraction ?? RATING_TOLERANCE_FRACTION)) / Math.sqrt(3) };
  }
  if (acceptA === undefined) return null;
  return { value: (acceptA[0] + acceptA[1]) / 2, u: (acceptA[1] - acceptA[0]) / Math.sqrt(12) };
}

/** Inrush of a heater and of the other kinds as shares of the settled current. Common practice, no source. */
const HEATER_INRUSH: Uncertain = { value: 0.6, u: 0.35 };
const OTHER_INRUSH: Uncertain = { value: 0, u: 0.1 };

function shapeLikelihood({ kind }: LoadProfile, inrush: Uncertain | null): number {
  if (inrush === null) return 1;
  const usual = kind === "heater" ? HEATER_INRUSH : OTHER_INRUSH;
  const u = rootSumSquares(usual.u, inrush.u);
  return normalDensity((inrush.value - usual.value) / u) / u;
}

function mixedShape(inrush: Uncertain | null): number {
  if (inrush === null) return 1;
  const of = ({ value, u: own }: Uncertain) => {
    const u = rootSumSquares(own, inrush.u);
    return normalDensity((inrush.value - value) / u) / u;
  };
  return 0.5 * of(HEATER_INRUSH) + 0.5 * of(OTHER_INRUSH);
}

/** The standard deviation that the fit of a shape itself takes inrush to have, and its mean. */
const FITTED_WITH: Uncertain = { value: 0.5, u: 0.4 };

/** What the readings alone say of the inrush: the fit's own prior knowledge taken out; null where that is nothing. */
export function inrushFromReadings(fitted: Uncertain): Uncertain | null {
  const precision = power(fitted.u, -2) - power(FITTED_WITH.u, -2);
  if (!(precision > 0.05 * power(FITTED_WITH.u, -2))) return null;
  return {
    value: (fitted.value / squared(fitted.u) - FITTED_WITH.value / squared(FITTED_WITH.u)) / precision,
    u: power(precision, -0.5),
  };
}

/** Rankings of the responses whose load nobody told, where the profile's resistances allow one. */
export function rankUntold(
  judged: readonly JudgedResponse[],
  profile: BusProfile | null,
  source: SourceAnswer,
  falseAlarmRate: number,
): readonly Assumption[] {
  if (profile === null || !source.known) return [];
  return judged.flatMap((one): readonly Assumption[] => {
    if (one.profile !== null || one.pValue > falseAlarmRate || !(one.depth.value > 0)) return [];
    // Where no dip could be fitted on its own, nothing tells the level that ratings in watts hang on.
    const [first] = one.dips;
    if (first === undefined) return [];
    const { refined } = one.response;
    const ranked = rankLoads(
      {
        depth: one.depth,
        busV: first.referenceV,
        inrush: refined === null ? null : inrushFromReadings({ value: refined.shape.inrush, u: refined.uInrush }),
      },
      profile.loads,
      { value: source.resistanceOhm, u: source.uOhm },
    );
    return ranked.length === 0 ? [] : [{ code: "load-ranked", load: one.response.id, ranked }];
  });
}
