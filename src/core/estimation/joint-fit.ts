import type { Uncertain } from "../quantity/quantity.js";
import { choleskyInPlace, forwardSubstitute } from "../statistics/cholesky.js";
import { squared } from "../statistics/portable-power.js";
import { type Answer, unanswered } from "./answer.js";
import { nonlinearLeastSquares } from "./nonlinear-least-squares.js";

export interface JointFitInput {
  /** Depths in volts, one or more per load, all at the same time after their onset. */
  readonly depths: readonly { readonly load: string; readonly valueV: number }[];
  /** Covariance of the depths, row-major, volts squared. */
  readonly covarianceV2: Float64Array;
  /** Currents known beforehand: measured, or from a rating. */
  readonly currents: readonly { readonly load: string; readonly currentA: Uncertain }[];
  /** Source resistance known beforehand. */
  readonly resistanceOhm?: Uncertain;
}

export interface JointFit {
  readonly resistanceOhm: Uncertain;
  /** In the order in which the loads first appear among the depths. */
  readonly currents: readonly { readonly load: string; readonly currentA: Uncertain }[];
  /** Correlation matrix of resistance and currents, row-major, resistance first. */
  readonly correlation: Float64Array;
  /** Sum of squared standardised residuals, and its degrees of freedom: chi-square where all inputs agree. */
  readonly chiSquare: number;
  readonly dof: number;
}

/** A resistance less certain than this share of itself does not yield currents. */
const LARGEST_RELATIVE_U = 0.25;

/**
 * One source resistance and one current per load from all dips together, `depth = R I`, by generalised least squares.
 *
 * The common resistance makes the currents correlated; the matrix says how much. Unknown without any known current or
 * resistance, and where the resistance comes out less certain than a quarter of itself.
 *
 * Source: JCGM 102:2011, 6.3 (several outputs), with the weighting of Aitken's generalised least squares (from memory).
 * @throws RangeError for a covariance of another size or one that is not positive definite
 */
export function jointFit(input: JointFitInput): Answer<JointFit> {
  const { depths, currents, resistanceOhm } = input;
  const loads = [...new Set(depths.map(({ load }) => load))];
  const known = currents.filter(({ load }) => loads.includes(load));
  if (known.length === 0 && resistanceOhm === undefined) return unanswered("no-current-reference");
  const start = startOf(input, loads, known);
  if (start === null) return unanswered("reference-too-weak");
  const factor = Float64Array.from(input.covarianceV2);
  if (factor.length !== squared(depths.length) || !choleskyInPlace(factor, depths.length)) {
    throw new RangeError(
      `Cannot fit jointly: the covariance of ${depths.length} depths must be a positive definite ${depths.length} x ${depths.length} matrix`,
    );
  }
  const place = depths.map(({ load }) => 1 + loads.indexOf(load));
  const residualCount = depths.length + known.length + (resistanceOhm === undefined ? 0 : 1);
  const fit = nonlinearLeastSquares(
    {
      start,
      residualCount,
      residuals: (parameters, out) => {
        const misfits = Float64Array.from(depths, ({ valueV }, k) => valueV - parameters[0] * parameters[place[k]]);
        out.set(forwardSubstitute(factor, depths.length, misfits));
        known.forEach(({ load, currentA }, k) => {
          out[depths.length + k] = (currentA.value - parameters[1 + loads.indexOf(load)]) / currentA.u;
        });
        if (resistanceOhm !== undefined) {
          out[residualCount - 1] = (resistanceOhm.value - parameters[0]) / resistanceOhm.u;
        }
      },
    },
    { absolute: true },
  );
  if (!fit.converged || !(fit.standardErrors[0] <= LARGEST_RELATIVE_U * fit.parameters[0])) {
    return unanswered("reference-too-weak");
  }
  const { parameters, standardErrors, covariance } = fit;
  const count = parameters.length;
  return {
    known: true,
    resistanceOhm: { value: parameters[0], u: standardErrors[0] },
    currents: loads.map((load, k) => ({ load, currentA: { value: parameters[k + 1], u: standardErrors[k + 1] } })),
    correlation: covariance.map(
      (value, k) => value / (standardErrors[Math.floor(k / count)] * standardErrors[k % count]),
    ),
    chiSquare: fit.residualSquares,
    dof: residualCount - count,
  };
}

/** Resistance from the best known load or beforehand, then each current from the mean depth of its load. */
function startOf(
  input: JointFitInput,
  loads: readonly string[],
  known: JointFitInput["currents"],
): Float64Array | null {
  const meanDepth = (load: string) => {
    const own = input.depths.filter((depth) => depth.load === load);
    return own.reduce((sum, { valueV }) => sum + valueV / own.length, 0);
  };
  const fromKnown = known.map(({ load, currentA }) => meanDepth(load) / currentA.value).filter((ohms) => ohms > 0);
  const resistance = input.resistanceOhm?.value ?? fromKnown.sort((a, b) => a - b)[Math.floor(fromKnown.length / 2)];
  if (!(resistance > 0)) return null;
  return Float64Array.from([
    resistance,
    ...loads.map((load) => known.find((one) => one.load === load)?.currentA.value ?? meanDepth(load) / resistance),
  ]);
}
