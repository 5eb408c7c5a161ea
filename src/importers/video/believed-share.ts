/** Fewer frames tell nothing. */
const LEAST_FRAMES = 60;
/** Neighbouring second differences are alike: so many count as one. */
const ALIKE = 2;
/** Beyond so many robust standard deviations a movement of the needle is its own. */
const USUAL_TURN = 3;

/** A frame's turn, and by how much it would change if something quick were believed of it; steps. */
export interface ClueOfTurn {
  readonly step: number;
  readonly quick: number;
}

/**
 * The share of what is quick that leaves the least second differences of the turn, in which errors from frame to frame stand
 * out and the bus, through a slow meter, hardly; with its standard uncertainty. Null where the clip cannot tell it.
 */
export function quickShare(frames: readonly (ClueOfTurn | null)[]): { share: number; u: number } | null {
  const bends: { turn: number; quick: number }[] = [];
  for (let at = 2; at < frames.length; at++) {
    const [first, second, third] = frames.slice(at - 2, at + 1);
    if (first == null || second == null || third == null) continue;
    bends.push({
      turn: first.step - 2 * second.step + third.step,
      quick: first.quick - 2 * second.quick + third.quick,
    });
  }
  if (bends.length < LEAST_FRAMES) return null;
  const limit = USUAL_TURN * robustDeviation(bends.map(({ turn }) => turn));
  let [products, squares, turns, count] = [0, 0, 0, 0];
  for (const { turn, quick } of bends) {
    const weight = 1 / (1 + (turn / limit) ** 2);
    products -= weight * turn * quick;
    squares += weight * quick * quick;
    turns += weight * turn * turn;
    count += weight;
  }
  if (!(squares > 0)) return null;
  const share = products / squares;
  return { share, u: Math.sqrt((ALIKE * Math.max(0, turns / squares - share * share)) / count) };
}

/** Standard deviation about zero of what is usual. */
export function robustDeviation(values: readonly number[]): number {
  return 1.48 * (Float64Array.from(values, Math.abs).sort()[values.length >> 1] ?? 0);
}
