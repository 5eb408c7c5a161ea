import { cosine, sine } from "../statistics/portable-angle.js";
import { exponential } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";

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

/** Decay times after which nothing is left of a swing: 1e-8 of it. */
const CALM = 18;

/** Deflection `t` seconds after a step of 1. */
export function swingAfterStep(t: number, { periodS, dampingRatio }: SwingingNeedle): number {
  if (t <= 0) return 0;
  if (dampingRatio * t > CALM * periodS) return 1;
  const root = Math.sqrt(1 - squared(dampingRatio));
  const angle = (root * t) / periodS;
  return 1 - exponential((-dampingRatio * t) / periodS) * (cosine(angle) + (dampingRatio / root) * sine(angle));
}

/** Deflection `t` seconds after `exp(-t / tauS)` is switched on. */
export function swingAfterDecay(t: number, tauS: number, { periodS, dampingRatio }: SwingingNeedle): number {
  if (t <= 0) return 0;
  const rate = periodS / tauS;
  const root = Math.sqrt(1 - squared(dampingRatio));
  const angle = (root * t) / periodS;
  const forced = 1 / (squared(rate) - 2 * dampingRatio * rate + 1);
  const free = cosine(angle) - ((rate - dampingRatio) / root) * sine(angle);
  return forced * (exponential(-t / tauS) - exponential((-dampingRatio * t) / periodS) * free);
}
