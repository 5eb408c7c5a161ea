import { squared } from "../statistics/portable-power.js";
import type { DecayingTerm } from "./decaying-response.js";

/** A part of what a meter is shown, from 0 on: `size exp(-rate t)`. */
export interface DecayingInput {
  readonly rate: number;
  readonly size: number;
}

/**
 * Decaying terms of a needle that creeps with the time constant `lagS` (0: none), at rest before 0, after a constant and
 * decaying inputs are shown to it: those of the inputs in their order, then its own, if it lags at all.
 *
 * No input may decay with the needle's own rate.
 */
export function creepTerms(lagS: number, constant: number, inputs: readonly DecayingInput[]): DecayingTerm[] {
  const terms = inputs.map(({ rate, size }) => ({
    rate,
    angular: 0,
    inPhase: size / (1 - rate * lagS),
    quadrature: 0,
  }));
  if (lagS <= 0) return terms;
  const inPhase = -terms.reduce((sum, term) => sum + term.inPhase, constant);
  return [...terms, { rate: 1 / lagS, angular: 0, inPhase, quadrature: 0 }];
}

/**
 * Response of a needle that swings: a second-order system of natural angular frequency `1 / periodS` and damping ratio
 * below 1, at rest before time 0.
 *
 * Source: step response of an under-damped second-order system, any text on control; indicating instruments are usually
 * damped to 0.6 to 0.8 (common practice, no source).
 */
export interface SwingingNeedle {
  /** One over the natural angular frequency, seconds. */
  readonly periodS: number;
  /** Above 0 and below 1. */
  readonly dampingRatio: number;
}

/** The same for a needle that swings: the terms of the inputs in their order, then its own. */
export function swingTerms(
  { periodS, dampingRatio }: SwingingNeedle,
  constant: number,
  inputs: readonly DecayingInput[],
): DecayingTerm[] {
  const root = Math.sqrt(1 - squared(dampingRatio));
  const terms = inputs.map(({ rate, size }) => {
    const share = rate * periodS;
    return { rate, angular: 0, inPhase: size / (squared(share) - 2 * dampingRatio * share + 1), quadrature: 0 };
  });
  // Neither place nor speed jumps at 0.
  const place = -terms.reduce((sum, term) => sum + term.inPhase, constant);
  const speed = terms.reduce((sum, term) => sum + term.rate * periodS * term.inPhase, 0);
  const own = { rate: dampingRatio / periodS, angular: root / periodS };
  return [...terms, { ...own, inPhase: place, quadrature: (dampingRatio * place + speed) / root }];
}
