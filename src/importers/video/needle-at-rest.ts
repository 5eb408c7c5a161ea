import type { NeedleLine, Place } from "./dial-geometry.js";
import { needlePatch, type PolarGrid, type PolarView, polarGrid } from "./needle-patch.js";
import { raySource } from "./smooth-sampling.js";
import type { Neighbour, Still } from "./still.js";
import { unmoved } from "./warp.js";

/** A turn of the needle by less than this at its tip counts as none, pixels. */
const LEAST_TURN_PX = 0.15;
/** So does one within so many standard uncertainties. */
const SURE = 3;
/** Share of the needle's own square that is found where it has moved by more than its width. */
const GONE_SHARE = 0.2;

/**
 * The neighbours of a still in which the needle stands where it stands in the still. Where it turned meanwhile, the mean of
 * all shows it at two places, or wide and between them.
 */
export function neighboursAtRest(still: Still, pivot: Place, needle: NeedleLine): readonly Neighbour[] {
  const grid = polarGrid(pivot, needle.innerPx, needle.outerPx, 1);
  const core = Math.ceil((3 * needle.halfWidthPx + 4) / needle.outerPx / grid.stepRad);
  const steps = {
    firstStep: Math.round(needle.angleRad / grid.stepRad) - 3 * core,
    stepCount: 6 * core + 1,
  };
  const patchOf = (view: PolarView, warp: Neighbour["registration"]["warp"]) =>
    needlePatch(view, warp, grid, steps).values;
  const { frame, mean } = still;
  const area = { x: 0, y: 0, width: frame.width, height: frame.height };
  const own = patchOf(
    { pixels: raySource({ full: { ...frame, values: frame.luma } }), area },
    unmoved(pivot.x, pivot.y),
  );
  const learnt = patchOf({ pixels: raySource({ full: mean }), area }, unmoved(pivot.x, pivot.y));
  return still.neighbours.filter(({ frame: other, registration }) => {
    const { warp, gain, offset } = registration;
    const seen = patchOf({ pixels: raySource({ full: { ...other, values: other.luma } }), area }, warp);
    const change = seen.map((value, at) => (value - offset) / gain - own[at]!);
    return !hasTurned(change, learnt, own, grid, core);
  });
}

/** Whether a change of the needle's surroundings, by band and step, is a turn of the needle. */
function hasTurned(
  change: Float32Array,
  learnt: Float32Array,
  own: Float32Array,
  grid: PolarGrid,
  core: number,
): boolean {
  const stepCount = 6 * core + 1;
  let [alongSlope, slopes, coreSquares, coreCount, besideSquares, besideCount] = [0, 0, 0, 0, 0, 0];
  let [levels, levelSquares] = [0, 0];
  for (let at = 0; at < change.length; at++) {
    const column = at % stepCount;
    if (column === 0 || column === stepCount - 1 || !Number.isFinite(change[at]!)) continue;
    if (Math.abs(column - 3 * core) > core) {
      besideSquares += change[at]! ** 2;
      besideCount++;
      continue;
    }
    const slope = (learnt[at + 1]! - learnt[at - 1]!) / 2;
    if (!Number.isFinite(slope)) continue;
    alongSlope -= slope * change[at]!;
    slopes += slope * slope;
    coreSquares += change[at]! ** 2;
    levels += own[at]!;
    levelSquares += own[at]! ** 2;
    coreCount++;
  }
  const noise = besideSquares / Math.max(1, besideCount);
  const ownSquare = levelSquares / coreCount - (levels / coreCount) ** 2;
  if (coreSquares / coreCount - noise > GONE_SHARE * ownSquare) return true;
  const stepPx = grid.stepRad * grid.bandRadiusPx.at(-1)!;
  const turnPx = Math.abs(alongSlope / slopes) * stepPx;
  return turnPx > Math.max(LEAST_TURN_PX, SURE * Math.sqrt(noise / slopes) * stepPx);
}
