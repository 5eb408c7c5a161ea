import type { TwoCurrentFigure } from "../analysis.js";
import type { Polarization } from "../battery/polarization.js";
import { COVERAGE } from "../quantity/interval.js";
import type { Quantity, Unit } from "../quantity/quantity.js";
import { normalQuantile, normalSurvival } from "../statistics/distribution.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

/**
 * A quantity in proportion to the readings' changes, with the doubt `gainUncertainty` (a share) of their gain added.
 *
 * Source: JCGM 100:2008, 5.1.6 (relative uncertainties of a product); half-widths in quadrature as uncertainties are.
 */
export function withSharedGain<U extends Unit>(quantity: Quantity<U>, gainUncertainty: number): Quantity<U> {
  return withCommonDoubt(quantity, gainUncertainty * Math.abs(quantity.value));
}

/** A quantity with one more standard uncertainty `uMore`, in its own unit. */
export function withCommonDoubt<U extends Unit>(quantity: Quantity<U>, uMore: number): Quantity<U> {
  if (uMore === 0) return quantity;
  const { value, u, low, high } = quantity;
  const half = normalQuantile((1 + COVERAGE) / 2) * uMore;
  return {
    ...quantity,
    u: rootSumSquares(u, uMore),
    low: value - rootSumSquares(value - low, half),
    high: value + rootSumSquares(high - value, half),
  };
}

/** Below this, a p-value is taken for this. */
const SMALLEST = 1e-300;

/**
 * The p-value of a response that its readings' common doubt may have made, a share `doubt` of its depth: its standardised
 * size `z` becomes `1 / sqrt(1 / z^2 + doubt^2)`, so that what may be all doubt is never significant, however small the noise.
 */
export function pValueUnderDoubt(pValue: number, doubt: number): number {
  if (doubt === 0 || pValue >= 0.5) return pValue;
  const z = -normalQuantile(Math.max(pValue, SMALLEST));
  return normalSurvival(1 / rootSumSquares(1 / z, doubt));
}

/** Critical and minimum detectable depth in volts. */
export interface DepthLimits {
  readonly criticalDepthV: number;
  readonly minimumDetectableDepthV: number;
}

/**
 * Depth limits of ISO 11843-1 where the gain of all readings is uncertain by a share `g` of any change, and the readings of
 * an on-time are in doubt together by `commonV`, which is part of sigma.
 *
 * A depth is then significant from `c / sqrt(1 - (g z_alpha)^2)` on, and a true depth D is found with the power where it
 * exceeds that by `z_power sqrt(sigma^2 + (g D)^2)`. Infinite where the doubt alone is as large as a depth.
 */
export function limitsUnderDoubt(
  limits: DepthLimits,
  { gainUncertainty: g, commonV, falseAlarmRate, power }: Rates,
): DepthLimits {
  if (g === 0 && commonV === 0) return limits;
  const [zAlpha, zPower] = [normalQuantile(1 - falseAlarmRate), normalQuantile(power)];
  const ownV = Math.max(0, (limits.minimumDetectableDepthV - limits.criticalDepthV) / zPower);
  const sigmaV = rootSumSquares(ownV, commonV);
  const clear = 1 - squared(g * zAlpha);
  const left = 1 - squared(g * zPower);
  if (!(clear > 0) || !(left > 0)) {
    return { criticalDepthV: Number.POSITIVE_INFINITY, minimumDetectableDepthV: Number.POSITIVE_INFINITY };
  }
  const criticalDepthV = rootSumSquares(limits.criticalDepthV, zAlpha * commonV) / Math.sqrt(clear);
  const constant = squared(criticalDepthV) - squared(zPower * sigmaV);
  const root = Math.sqrt(Math.max(0, squared(criticalDepthV) - left * constant));
  return { criticalDepthV, minimumDetectableDepthV: (criticalDepthV + root) / left };
}

interface Rates {
  readonly gainUncertainty: number;
  readonly commonV: number;
  readonly falseAlarmRate: number;
  readonly power: number;
}

/** Largest true depth that may show as no more than `shownV` volts, at a chance of `rate`; infinite where all may be hidden. */
export function largestHiddenDepthV(shownV: number, gainUncertainty: number, rate: number): number {
  const least = 1 - gainUncertainty * normalQuantile(1 - rate);
  if (shownV <= 0) return shownV;
  return least > 0 ? shownV / least : Number.POSITIVE_INFINITY;
}

/** Ohmic part and polarisation, all of whose resistances share the gain. */
export function polarizationUnderGain(found: Polarization | null, gainUncertainty: number): Polarization | null {
  if (found === null || !found.known) return found;
  const { ohmic, pairs } = found.model;
  return {
    ...found,
    model: {
      ohmic: withSharedGain(ohmic, gainUncertainty),
      pairs: pairs.map((pair) => ({ ...pair, resistance: withSharedGain(pair.resistance, gainUncertainty) })),
    },
  };
}

/** Figures of the two-current rules, whose resistances and short-circuit currents share the gain. */
export function figuresUnderGain(
  figures: readonly TwoCurrentFigure[],
  gainUncertainty: number,
): readonly TwoCurrentFigure[] {
  return figures.map((figure) => ({
    ...figure,
    resistance: withSharedGain(figure.resistance, gainUncertainty),
    shortCircuit: figure.shortCircuit === null ? null : withSharedGain(figure.shortCircuit, gainUncertainty),
  }));
}

/** A limit that a person can be told; null for none. */
export function finiteOrNull(limitV: number): number | null {
  return Number.isFinite(limitV) ? limitV : null;
}
