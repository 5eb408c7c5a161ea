import type { Quantity, Unit } from "../quantity/quantity.js";
import { squared } from "../statistics/portable-power.js";

/**
 * The interval of what rests on a depth, as much longer as that of the depth has become for having been accepted: what a lucky
 * dip says too much, its current and its single switchings say too. `scale` is how much of it comes with a volt of depth. The
 * depth's part of each half is exchanged, in quadrature, since what is left of it has nothing to do with having been accepted.
 */
export function asAccepted<U extends Unit>(
  quantity: Quantity<U>,
  scale: number,
  accepted: Quantity<"V">,
  plain: Quantity<"V">,
): Quantity<U> {
  const half = (own: number, plainV: number, acceptedV: number) =>
    Math.sqrt(Math.max(0, squared(own) + squared(scale) * (squared(acceptedV) - squared(plainV))));
  const { value } = quantity;
  return {
    ...quantity,
    low: value - half(value - quantity.low, plain.value - plain.low, accepted.value - accepted.low),
    high: value + half(quantity.high - value, plain.high - plain.value, accepted.high - accepted.value),
  };
}
