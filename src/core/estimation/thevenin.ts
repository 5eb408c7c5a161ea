import type { Uncertain } from "../quantity/quantity.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import { type CurrentLevel, stepWeights } from "./relaxation-columns.js";
import { type GridFit, type PairFit, RelaxationProblem } from "./relaxation-problem.js";

export interface TheveninInput {
  /** Readings of one or more dips, ascending times. */
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  /** Current during the dips; with a level of 1 for "on" the resistances come out as depths in volts. */
  readonly levels: readonly CurrentLevel[];
  /** Inverse variances of the readings up to a factor. */
  readonly weights?: Float64Array;
  /** Time constant of the meter and its standard uncertainty; no lag when left out. */
  readonly lagS?: Uncertain;
  /** Times after a step at which the resistance is told; 1 s and 10 s when left out. */
  readonly atS?: readonly number[];
}

/** Resistor in series with one or two resistor-capacitor pairs, as far as the readings show them. */
export interface TheveninFit {
  /** `R_dc(t)`: told whether or not the parts can be told apart. */
  readonly resistances: readonly { readonly atS: number; readonly resistanceOhm: Uncertain }[];
  readonly parts: TheveninParts | PartsNotTold;
  readonly residualDeviationV: number;
}

export interface TheveninParts {
  readonly known: true;
  readonly ohmicOhm: Uncertain;
  /** One entry per pair, the faster first. */
  readonly pairs: readonly { readonly resistanceOhm: Uncertain; readonly timeConstantS: Uncertain }[];
}

/**
 * Why ohmic part and polarisation cannot be told apart: the polarisation runs `too-fast` for the sampling or the lag,
 * `too-slow` for the length of the dips, or is lost in the noise (`too-faint`).
 */
export interface PartsNotTold {
  readonly known: false;
  readonly why: "too-fast" | "too-slow" | "too-faint";
}

/** A part with a larger relative standard error than this is not told. */
const LARGEST_RELATIVE_ERROR = 0.5;
/** Time constants of two pairs are at least this far apart. */
const LEAST_RATIO = 3;

/**
 * Fits `V = level + drift t - R0 i - sum Rk (i through a time constant)`, all seen through the meter's lag.
 *
 * The time constant is found on a logarithmic grid and refined by variable projection. A second pair is kept where the
 * Bayesian information criterion asks for it and both can be told. With one pair, `R_dc(t)` is averaged over the grid by
 * likelihood, so that it holds even where the time constant is open. Standard errors are widened for the correlation of
 * the residuals and for the uncertainty of the lag. Volts, amperes, ohms and seconds.
 *
 * Source: Golub & Pereyra 1973, SIAM J. Numerical Analysis 10 (variable projection); Schwarz 1978, The Annals of
 * Statistics 6 (the criterion), both from memory.
 * @throws RangeError for fewer than 6 readings or no level of the current
 */
export function theveninFit(input: TheveninInput): TheveninFit {
  if (input.timesS.length < 6 || input.levels.length === 0) {
    throw new RangeError(
      `Cannot fit a dip: at least 6 readings and 1 level of the current are needed, got ${input.timesS.length} and ${input.levels.length}`,
    );
  }
  const lag = input.lagS ?? { value: 0, u: 0 };
  const atS = input.atS ?? [1, 10];
  const here = describe(input, lag.value, atS);
  if (lag.u === 0) return here;
  const below = atOtherLag(input, Math.max(0, lag.value - lag.u), atS, here.parts);
  const above = atOtherLag(input, lag.value + lag.u, atS, here.parts);
  return {
    ...here,
    resistances: here.resistances.map((one, k) => ({
      atS: one.atS,
      resistanceOhm: widened(one.resistanceOhm, below.resistances[k], above.resistances[k]),
    })),
    parts: here.parts.known ? widenedParts(here.parts, below.parts, above.parts) : here.parts,
  };
}

/** Half the change from one standard uncertainty of the lag below it to one above is added in quadrature. */
function widened(value: Uncertain, below: Uncertain, above: Uncertain): Uncertain {
  return { value: value.value, u: rootSumSquares(value.u, (above.value - below.value) / 2) };
}

function widenedParts(
  here: TheveninParts,
  below: TheveninParts | null,
  above: TheveninParts | null,
): TheveninFit["parts"] {
  if (below === null || above === null) return { known: false, why: "too-fast" };
  const parts: TheveninParts = {
    known: true,
    ohmicOhm: widened(here.ohmicOhm, below.ohmicOhm, above.ohmicOhm),
    pairs: here.pairs.map((pair, k) => ({
      resistanceOhm: widened(pair.resistanceOhm, below.pairs[k].resistanceOhm, above.pairs[k].resistanceOhm),
      timeConstantS: widened(pair.timeConstantS, below.pairs[k].timeConstantS, above.pairs[k].timeConstantS),
    })),
  };
  return isTold(parts) ? parts : { known: false, why: "too-fast" };
}

/** The same number of pairs, fitted with another lag. */
function atOtherLag(
  input: TheveninInput,
  lagS: number,
  atS: readonly number[],
  parts: TheveninFit["parts"],
): { readonly resistances: readonly Uncertain[]; readonly parts: TheveninParts | null } {
  const problem = new RelaxationProblem(input, lagS);
  const fit = parts.known ? problem.refine(parts.pairs.map(({ timeConstantS }) => timeConstantS.value)) : null;
  if (fit !== null && fit.pairs.length > 1) {
    return { resistances: atS.map((time) => fit.resistanceAt(time)), parts: partsOf(fit) };
  }
  const grid = problem.grid();
  return {
    resistances: atS.map((time) => grid.resistance(stepWeightsOf(time))),
    parts: fit === null ? null : partsOf(fit),
  };
}

function describe(input: TheveninInput, lagS: number, atS: readonly number[]): TheveninFit {
  const problem = new RelaxationProblem(input, lagS);
  const grid = problem.grid();
  const one = problem.refine([grid.bestTauS]);
  const oneParts = one === null ? null : partsOf(one);
  const two = oneParts !== null && isTold(oneParts) ? twoPairs(problem, one!) : null;
  if (two !== null) {
    return {
      resistances: atS.map((time) => ({ atS: time, resistanceOhm: two.resistanceAt(time) })),
      parts: partsOf(two),
      residualDeviationV: two.residualDeviationV,
    };
  }
  return {
    resistances: atS.map((time) => ({ atS: time, resistanceOhm: grid.resistance(stepWeightsOf(time)) })),
    parts: gated(oneParts, grid),
    residualDeviationV: grid.residualDeviationV,
  };
}

const stepWeightsOf = (atS: number) => (tauS: number) => stepWeights(atS, [tauS]);

function gated(parts: TheveninParts | null, { edge, open }: GridFit): TheveninFit["parts"] {
  if (edge !== null) return { known: false, why: edge === "low" ? "too-fast" : "too-slow" };
  return parts !== null && !open && isTold(parts) ? parts : { known: false, why: "too-faint" };
}

function isTold({ ohmicOhm, pairs }: TheveninParts): boolean {
  const clear = ({ value, u }: Uncertain) => value > 0 && u <= LARGEST_RELATIVE_ERROR * value;
  return (
    clear(ohmicOhm) && pairs.every(({ resistanceOhm, timeConstantS }) => clear(resistanceOhm) && clear(timeConstantS))
  );
}

function partsOf(fit: PairFit): TheveninParts {
  return { known: true, ohmicOhm: fit.ohmicOhm, pairs: fit.pairs };
}

/** Two pairs where they earn their two parameters; null otherwise. */
function twoPairs(problem: RelaxationProblem, one: PairFit): PairFit | null {
  if (!one.misfit) return null;
  const tauS = one.pairs[0].timeConstantS.value;
  let best: PairFit | null = null;
  for (const [fast, slow] of [
    [0.2, 1.3],
    [0.8, 5],
  ]) {
    const two = problem.refine([fast * tauS, slow * tauS]);
    if (two !== null && (best === null || two.residualDeviationV < best.residualDeviationV)) best = two;
  }
  if (best === null || !isTold(partsOf(best))) return null;
  const [fast, slow] = best.pairs.map(({ timeConstantS }) => timeConstantS.value);
  // Two parameters more, on the count of readings that the better fit leaves independent.
  const count = best.independentCount;
  const earned = (count / 2) * logarithm(one.residualSquares / best.residualSquares) > logarithm(count);
  return earned && slow >= LEAST_RATIO * fast ? best : null;
}
