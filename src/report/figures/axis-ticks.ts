import { decimalExponent, powerOfTen } from "./decimal-power.js";

export interface AxisTick {
  readonly at: number;
  readonly text: string;
}

/**
 * Ticks at 1, 2 or 5 times a power of ten, about `wanted` of them but at least two, within `[low, high]`, with their
 * printed digits.
 */
export function axisTicks(low: number, high: number, wanted: number): readonly AxisTick[] {
  let ticks = ticksBy(low, high, wanted);
  // A single tick tells no scale.
  for (let more = 2; ticks.length === 1 && more <= 8; more *= 2) ticks = ticksBy(low, high, wanted * more);
  return ticks;
}

function ticksBy(low: number, high: number, wanted: number): readonly AxisTick[] {
  const span = high - low;
  if (!(span > 0 && Number.isFinite(span))) return [];
  const rough = span / Math.max(1, wanted);
  const power = decimalExponent(rough);
  const mantissa = rough / powerOfTen(power);
  const factor = mantissa < Math.SQRT2 ? 1 : mantissa < Math.sqrt(10) ? 2 : mantissa < Math.sqrt(50) ? 5 : 10;
  const decimals = Math.max(0, -power - (factor === 10 ? 1 : 0));
  const step = factor * powerOfTen(power);
  const ticks: AxisTick[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + span * 1e-9; k++) {
    const at = Number((k * step).toFixed(Math.min(20, decimals)));
    ticks.push({ at, text: at.toFixed(Math.min(20, decimals)).replace("-", "\u2212") });
  }
  return ticks;
}
