/**
 * Adjusts p-values so that the chance of any false alarm among them stays at the nominal rate.
 *
 * Source: Holm 1979, Scandinavian Journal of Statistics 6, 65-70 (from memory).
 */
export function holmAdjusted(pValues: readonly number[]): number[] {
  const order = pValues.map((_, k) => k).sort((a, b) => pValues[a] - pValues[b]);
  const adjusted = new Array<number>(pValues.length).fill(1);
  let largest = 0;
  for (let rank = 0; rank < order.length; rank++) {
    largest = Math.max(largest, Math.min(1, (order.length - rank) * pValues[order[rank]]));
    adjusted[order[rank]] = largest;
  }
  return adjusted;
}
