import { power } from "../statistics/portable-power.js";

/** What a recording of the check will itself leave open of its noise. */
export interface NoiseKnowledge {
  /** Standard deviation of the logarithm of the scores' scale. */
  readonly scaleSd: number;
  /** Factor on the scores that pays for the open noise. */
  readonly shrink: number;
}

/** Length of the recordings on which the figures below were found, seconds. */
const KNOWN_SPAN_S = 80;

/**
 * How well `spanS` seconds of readings tell their own noise.
 *
 * Found by fitting drawn recordings as the detector does (white, coloured and wandering noise, 2 to 10 readings a second):
 * 0.080 to 0.087 and 0.97 to 1.00 at 77 s, 0.041 to 0.057 and 0.99 to 1.01 at 170 s; drawn anew in the tests.
 */
export function noiseKnowledge(spanS: number): NoiseKnowledge {
  const ratio = KNOWN_SPAN_S / spanS;
  return { scaleSd: Math.min(0.3, 0.083 * Math.sqrt(ratio)), shrink: 1 - Math.min(0.1, 0.018 * power(ratio, 1.5)) };
}
