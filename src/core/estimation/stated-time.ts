import { exponentialLessOne } from "../statistics/portable-exponential.js";

/** Time after the step at which a resistance from fitted dips is stated, seconds. */
export const STATED_TIME_S = 1;

/** Standard uncertainty of the growth, as a share of it: the shape of the dip tells it only roughly. */
const GROWTH_SHARE = 0.35;

/**
 * Share by which the resistance at the stated time exceeds the immediate one that a fitted dip's depth tells, and its
 * standard uncertainty: the battery's polarisation as the shape of the dip shows it.
 */
export function growthToStatedTime(shape: { readonly polarization: number; readonly polarizationS: number }): {
  readonly value: number;
  readonly u: number;
} {
  const value = Math.max(0, shape.polarization) * -exponentialLessOne(-STATED_TIME_S / shape.polarizationS);
  return { value, u: GROWTH_SHARE * value };
}
