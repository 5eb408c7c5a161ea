import type { PixelArea } from "./frame.js";
import type { RaySource } from "./smooth-sampling.js";
import { type Warp, warped } from "./warp.js";

/**
 * The polar grid on which a needle is read: rings of radii about the pivot (bands), and steps of angle.
 *
 * Angles are those of the reference picture in coded orientation, radians from the x axis towards the y axis (clockwise).
 */
export interface PolarGrid {
  readonly pivotX: number;
  readonly pivotY: number;
  readonly stepRad: number;
  /** How many pixels lie along one of the plane that is sampled. */
  readonly shrink: 1 | 2;
  /** Radii of each band, pixels; all bands hold the same number of radii. */
  readonly bandRadiiPx: readonly Float64Array[];
  /** Mean radius of each band. */
  readonly bandRadiusPx: Float64Array;
}

/** Gray values by band and step; column `index` lies at angle `(firstStep + index) * stepRad`. */
export interface NeedlePatch {
  readonly firstStep: number;
  readonly stepCount: number;
  readonly bandCount: number;
  readonly values: Float32Array;
  /** How many steps beyond its angle each band shows a needle, by what is known of the view since it was sampled. */
  readonly bandOffsets: Float64Array;
}

/** A picture to sample: a frame or crop, and where the crop lies. */
export interface PolarView {
  readonly pixels: RaySource;
  readonly area: PixelArea;
}

const BAND_COUNT = 10;

/** A grid between two radii, with steps of about 0.7 pixels at the outer one and rings 1.4 pixels of the sampled plane apart. */
export function polarGrid(
  pivot: { x: number; y: number },
  innerPx: number,
  outerPx: number,
  shrink: PolarGrid["shrink"],
  bandCount: number = BAND_COUNT,
): PolarGrid {
  const perBand = Math.max(2, Math.round((outerPx - innerPx) / bandCount / (1.4 * shrink)));
  const stepPx = (outerPx - innerPx) / (bandCount * perBand);
  const bandRadiiPx = Array.from({ length: bandCount }, (_, band) =>
    Float64Array.from({ length: perBand }, (_, index) => innerPx + (band * perBand + index + 0.5) * stepPx),
  );
  return {
    pivotX: pivot.x,
    pivotY: pivot.y,
    stepRad: 0.7 / outerPx,
    shrink,
    bandRadiiPx,
    bandRadiusPx: Float64Array.from(bandRadiiPx, (radii) => radii.reduce((sum, radius) => sum + radius, 0) / perBand),
  };
}

/** Means along the radius, band by band, of the frame seen through the warp; NaN where the frame ends. */
export function needlePatch(
  { pixels, area }: PolarView,
  warp: Warp,
  grid: PolarGrid,
  steps: { readonly firstStep: number; readonly stepCount: number },
): NeedlePatch {
  const { stepCount, firstStep } = steps;
  const bandCount = grid.bandRadiiPx.length;
  const values = new Float32Array(bandCount * stepCount);
  const pivot = warped(warp, grid.pivotX, grid.pivotY);
  const { shrink } = grid;
  const scale = 1 / shrink;
  const originX = (pivot.x - area.x - (shrink - 1) / 2) * scale;
  const originY = (pivot.y - area.y - (shrink - 1) / 2) * scale;
  const meansAlong = pixels.rays(shrink, grid.bandRadiiPx);
  const { e, m, p, n, q } = warp;
  const [fromX, fromY] = [grid.pivotX - warp.centreX, grid.pivotY - warp.centreY];
  for (let index = 0; index < stepCount; index++) {
    const angle = (firstStep + index) * grid.stepRad;
    const cos = Math.cos(angle);
    const sin = Math.sin(angle);
    // Along a ray from the pivot the warp is a line with a bend: first and second power of the radius.
    const alongX = (1 + warp.a + 2 * e * fromX + m * fromY) * cos + (warp.b + m * fromX + 2 * p * fromY) * sin;
    const alongY = (warp.c + n * fromY) * cos + (1 + warp.d + n * fromX + 2 * q * fromY) * sin;
    const bendX = (e * cos + m * sin) * cos + p * sin * sin;
    const bendY = (n * cos + q * sin) * sin;
    const means = meansAlong(originX, originY, alongX, alongY, bendX, bendY, scale);
    for (let band = 0; band < bandCount; band++) values[band * stepCount + index] = means[band]!;
  }
  return { firstStep, stepCount, bandCount, values, bandOffsets: new Float64Array(bandCount) };
}
