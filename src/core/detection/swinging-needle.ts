import { squared } from "../statistics/portable-power.js";
import type { DecayingTerm } from "./decaying-response.js";

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

/**
 * Decaying terms of the needle's deflection after a current of `1 + inrush exp(-t / tauS)` is switched on, the forced one
 * first; the constant is 1.
 */
export function swingTerms({ periodS, dampingRatio }: SwingingNeedle, tauS: number, inrush: number): DecayingTerm[] {
  const share = periodS / tauS;
  const root = Math.sqrt(1 - squared(dampingRatio));
  const forced = inrush / (squared(share) - 2 * dampingRatio * share + 1);
  return [
    { rate: 1 / tauS, angular: 0, inPhase: forced, quadrature: 0 },
    {
      rate: dampingRatio / periodS,
      angular: root / periodS,
      inPhase: -1 - forced,
      quadrature: (-dampingRatio + forced * (share - dampingRatio)) / root,
    },
  ];
}
