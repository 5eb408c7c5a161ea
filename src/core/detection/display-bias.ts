import { exponential } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

/** Error of a depth that the rounding of the display makes and that more readings do not average away. */
export interface DisplayBias {
  /** Standard uncertainty, volts. */
  readonly uV: number;
  /** Largest error, volts: a dip of less than this may show as nothing at all. */
  readonly mostV: number;
}

/** What is known of the rounding beside the display step. */
export interface DisplayState {
  /** Noise that the readings have before they are rounded, volts. */
  readonly ownNoiseV: number;
  /** Level before each switching, volts. */
  readonly levelsV: readonly number[];
}

/** Below this share of half a step the rounding averages away like noise. */
const LEAST_DECAY = 1e-4;

/**
 * Bias that rounding to `stepV` leaves in a depth.
 *
 * The mean of readings with normal noise s, rounded to q, is off by at most `(q / pi) exp(-2 pi^2 s^2 / q^2)`, never by
 * more than q / 2, with a sign that hangs on where the level lies between two digits; a depth is the difference of two
 * such means. Noise of half a digit makes it vanish. Where the levels before the switchings spread over several half
 * digits, their errors average.
 *
 * Source: Widrow & Kollar 2008, Quantization Noise, chapter 6 (from memory); checked against drawn readings in the tests.
 */
export function displayBias(stepV: number, state: DisplayState): DisplayBias {
  const decay = exponential((-2 * squared(Math.PI) * squared(state.ownNoiseV)) / squared(stepV));
  // Without noise the error is a saw-tooth of half a step; its first harmonic alone is q / pi.
  const single = decay < LEAST_DECAY ? 0 : (stepV / 2) * decay;
  const spreadV = state.levelsV.length === 0 ? 0 : Math.max(...state.levelsV) - Math.min(...state.levelsV);
  const phases = 1 + Math.min(2 * state.levelsV.length - 1, Math.floor(spreadV / (stepV / 2)));
  const averaged = Math.sqrt(Math.max(1, phases));
  return { uV: (single * Math.sqrt(2 / 3)) / averaged, mostV: (2 * single) / averaged };
}

/**
 * The same with a needle that friction holds back by up to `frictionV`: it stops that far above a falling voltage and that
 * far below a rising one, so that a dip is shown up to twice that too shallow. Taken as rectangular between nothing and
 * that.
 *
 * Source: hysteresis as a rectangular distribution, JCGM 100:2008, F.2.2.2; friction of pivots, common practice, no source.
 */
export function withFriction(bias: DisplayBias, frictionV: number): DisplayBias {
  const mostV = 2 * frictionV;
  return { uV: rootSumSquares(bias.uV, mostV / Math.sqrt(3)), mostV: bias.mostV + mostV };
}
