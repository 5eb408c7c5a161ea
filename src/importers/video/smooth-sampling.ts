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

/** The planes of a frame or of a crop; `reused` are those of a frame of the same size that is done with. */
export function framePlanes(full: GrayPlane, reused?: FramePlanes): FramePlanes {
  const { values, stride } = full;
  const half = emptyPlane(full.width >> 1, full.height >> 1, reused?.half);
  const quarter = emptyPlane(half.width >> 1, half.height >> 1, reused?.quarter);
  if (values instanceof Uint8Array && values.byteOffset % 4 === 0 && stride % 4 === 0 && full.width % 4 === 0) {
    const rows = 4 * quarter.height;
    byteMeans(new Uint32Array(values.buffer, values.byteOffset, values.byteLength >> 2), stride >> 2, half, quarter);
    if (half.height > rows / 2) blockMeans(full, half, rows / 2);
  } else {
    blockMeans(full, half, 0);
    blockMeans(half, quarter, 0);
  }
  return { full, half, quarter };
}

interface MeanPlane extends GrayPlane {
  readonly values: Float32Array;
}

function emptyPlane(width: number, height: number, reused: GrayPlane | undefined): MeanPlane {
  const kept = reused?.values;
  const values =
    kept instanceof Float32Array && kept.length === width * height ? kept : new Float32Array(width * height);
  return { width, height, stride: width, values };
}

/** Both planes of means at once, four pixels a word, in whole rows of the coarser: a quarter of the time of one by one. */
function byteMeans(words: Uint32Array, line: number, half: MeanPlane, quarter: MeanPlane): void {
  const [halves, quarters] = [half.values, quarter.values];
  for (let row = 0; row < quarter.height; row++) {
    let at = 4 * row * line;
    let upper = 2 * row * half.width;
    let lower = upper + half.width;
    for (let out = row * quarter.width; out < (row + 1) * quarter.width; out++, at++, upper += 2, lower += 2) {
      const first = words[at]!;
      const second = words[at + line]!;
      const third = words[at + 2 * line]!;
      const fourth = words[at + 3 * line]!;
      // Two sums of 16 bits in one word.
      const above =
        (first & 0x00ff00ff) + ((first >>> 8) & 0x00ff00ff) + (second & 0x00ff00ff) + ((second >>> 8) & 0x00ff00ff);
      const below =
        (third & 0x00ff00ff) + ((third >>> 8) & 0x00ff00ff) + (fourth & 0x00ff00ff) + ((fourth >>> 8) & 0x00ff00ff);
      halves[upper] = (above & 0xffff) * 0.25;
      halves[upper + 1] = (above >>> 16) * 0.25;
      halves[lower] = (below & 0xffff) * 0.25;
      halves[lower + 1] = (below >>> 16) * 0.25;
      quarters[out] = ((above & 0xffff) + (above >>> 16) + (below & 0xffff) + (below >>> 16)) * 0.0625;
    }
  }
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

/** `sampleSmooth` at the first `count` places; the numbers stay in arrays, so that none has to be collected. */
export function sampleSmoothEach(
  plane: GrayPlane,
  xs: Float64Array,
  ys: Float64Array,
  count: number,
  into: Float64Array,
): void {
  for (let index = 0; index < count; index++) into[index] = sampleSmooth(plane, xs[index]!, ys[index]!);
}

/** Means of blocks of 2 x 2 pixels, from a row of the means on. */
function blockMeans({ values, stride }: GrayPlane, into: MeanPlane, firstRow: number): void {
  const { width, height, values: means } = into;
  for (let row = firstRow; row < height; row++) {
    let at = 2 * row * stride;
    const end = (row + 1) * width;
    for (let out = row * width; out < end; out++, at += 2)
      means[out] = (values[at]! + values[at + 1]! + values[at + stride]! + values[at + stride + 1]!) * 0.25;
  }
}
