/** Gray values on a grid; row `y` starts at `y * stride`. */
export interface GrayPlane {
  readonly width: number;
  readonly height: number;
  readonly stride: number;
  readonly values: Uint8Array | Float32Array;
}

/** A frame's luma and the means of 2 x 2 and 4 x 4 pixels, whose pixel (i, j) is centred on (2 i + 0.5, 2 j + 0.5) and (4 i + 1.5, 4 j + 1.5). */
export interface FramePlanes {
  readonly full: GrayPlane;
  readonly half: GrayPlane;
  readonly quarter: GrayPlane;
}

/** The planes of a picture. `FramePixels` takes those of a clip's frames, in a fraction of the time. */
export function framePlanes(full: GrayPlane): FramePlanes {
  const half = blockMeans(full);
  return { full, half, quarter: blockMeans(half) };
}

/** Means of blocks of 2 x 2 pixels. */
function blockMeans({ width, height, stride, values }: GrayPlane): GrayPlane {
  const [columns, rows] = [width >> 1, height >> 1];
  const means = new Float32Array(columns * rows);
  for (let row = 0; row < rows; row++) {
    let at = 2 * row * stride;
    for (let out = row * columns; out < (row + 1) * columns; out++, at += 2)
      means[out] = (values[at]! + values[at + 1]! + values[at + stride]! + values[at + stride + 1]!) * 0.25;
  }
  return { width: columns, height: rows, stride: columns, values: means };
}

/**
 * Gives the means of smooth samples along a bent ray, a mean for each band of radii: a radius r lies at
 * origin + r scale (along + r bend), pixels of the plane. NaN where one leaves the plane; what is given holds until the next
 * call.
 */
export type RayMeans = (
  originX: number,
  originY: number,
  alongX: number,
  alongY: number,
  bendX: number,
  bendY: number,
  scale: number,
) => Float32Array;

/** What can be sampled along rays. */
export interface RaySource {
  /** By bands of radii, all with as many, in the plane of which a pixel is `shrink` of the picture's. */
  rays(shrink: 1 | 2, bands: readonly Float64Array[]): RayMeans;
}

/** Rays through a picture. */
export function raySource({ full, half }: Pick<FramePlanes, "full"> & Partial<FramePlanes>): RaySource {
  return {
    rays(shrink, bands) {
      const plane = shrink === 2 ? (half ?? blockMeans(full)) : full;
      const means = new Float32Array(bands.length);
      return (originX, originY, alongX, alongY, bendX, bendY, scale) => {
        bands.forEach((radii, band) => {
          let sum = 0;
          for (let ring = 0; ring < radii.length; ring++) {
            const radius = radii[ring]!;
            const along = radius * scale;
            sum += sampleSmooth(
              plane,
              originX + along * (alongX + radius * bendX),
              originY + along * (alongY + radius * bendY),
            );
          }
          means[band] = sum / radii.length;
        });
        return means;
      };
    },
  };
}

/**
 * The value at (x, y) of the plane smoothed with the cubic B-spline; NaN where the 4 x 4 support leaves the plane.
 *
 * One continuous, twice differentiable function of place: no interpolation kinks that would pull a fit towards whole
 * pixels, and a smoothing of 0.58 px, computed only where it is asked for.
 */
export function sampleSmooth(plane: GrayPlane, x: number, y: number): number {
  const column = Math.floor(x);
  const row = Math.floor(y);
  if (!(column >= 1 && row >= 1 && column < plane.width - 2 && row < plane.height - 2)) return Number.NaN;
  const { values, stride } = plane;
  const t = x - column;
  const s = y - row;
  const x0 = (1 - t) * (1 - t) * (1 - t);
  const x3 = t * t * t;
  const x1 = 4 - 6 * t * t + 3 * x3;
  const x2 = 6 - x0 - x1 - x3;
  const y0 = (1 - s) * (1 - s) * (1 - s);
  const y3 = s * s * s;
  const y1 = 4 - 6 * s * s + 3 * y3;
  const y2 = 6 - y0 - y1 - y3;
  const at = (row - 1) * stride + column - 1;
  return (
    (y0 * across(values, at, x0, x1, x2, x3) +
      y1 * across(values, at + stride, x0, x1, x2, x3) +
      y2 * across(values, at + 2 * stride, x0, x1, x2, x3) +
      y3 * across(values, at + 3 * stride, x0, x1, x2, x3)) /
    36
  );
}

/** The weights, in sum 1, of `sampleSmooth` for four pixels along an axis, at a fraction between the second and third. */
export function splineWeights(t: number): readonly [number, number, number, number] {
  const [w0, w3] = [(1 - t) ** 3 / 6, t ** 3 / 6];
  const w1 = 2 / 3 - t * t + 3 * w3;
  return [w0, w1, 1 - w0 - w1 - w3, w3];
}

/** Four neighbours in a row by their weights. */
function across(values: GrayPlane["values"], at: number, x0: number, x1: number, x2: number, x3: number): number {
  return x0 * values[at]! + x1 * values[at + 1]! + x2 * values[at + 2]! + x3 * values[at + 3]!;
}
