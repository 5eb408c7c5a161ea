import { normalQuantile } from "../statistics/distribution.js";
import { exponential } from "../statistics/portable-exponential.js";

export const SCALE_STRATA = 16;

/** Scales of the scores evenly over their log-normal distribution, as the detector takes them. */
export function scaleAt(scaleSd: number, k: number): number {
  if (!(scaleSd > 0)) return 1;
  const z = normalQuantile(((k % SCALE_STRATA) + 0.5) / SCALE_STRATA);
  return exponential(Math.max(-1.5, Math.min(1.5, scaleSd * z)));
}
