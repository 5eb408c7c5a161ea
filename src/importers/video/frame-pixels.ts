import { WASM_PAGE_BYTES, wasmMemory, wasmProgram } from "../wasm-program.js";
import type { LumaFrame } from "./frame.js";
import { emptyEquations, type NormalEquations } from "./normal-equations.js";
import { PIXEL_SUMS_CODE } from "./pixel-sums-code.js";
import type { TemplatePoints } from "./registration-template.js";
import type { FramePlanes, GrayPlane, RayMeans, RaySource } from "./smooth-sampling.js";

type PlaneNumbers = [plane: number, line: number, right: number, bottom: number];

/** What `pixel-sums.wat` offers. */
interface PixelSums {
  means(full: number, line: number, fours: number, half: number, quarter: number): void;
  ray(
    ...numbers: [
      ...PlaneNumbers,
      ...[isBytes: number, radii: number, bands: number, rings: number, to: number],
      ...Parameters<RayMeans>,
    ]
  ): void;
  sum(
    ...numbers: [
      ...PlaneNumbers,
      ...[points: number, count: number, array: number, blurs: number, near: number, far: number],
      ...[columnCount: number, rows: number],
    ]
  ): void;
}

/** One step of a registration, as `FramePixels.sum` takes it. */
interface StepSetup {
  /** What stands first in the memory of `pixel-sums.wat`, in its order. */
  readonly numbers: readonly number[];
  readonly size: 8 | 14;
  /** The two of the reference's blurs in use. */
  readonly near: number;
  readonly far: number;
  /** Leaves the matrix out. */
  readonly onlyRight: boolean;
}

interface StepSums {
  readonly equations: NormalEquations;
  /** Sum of the points' weights, and of the sizes of their errors by weight. */
  readonly used: number;
  readonly absolute: number;
}

const start = wasmProgram<PixelSums>(PIXEL_SUMS_CODE);

/** Where what stands in the memory of `pixel-sums.wat`, bytes. */
const SUMS = 256;
const SUMS_PER_ROW = 15;
const BLOCK = SUMS + 8 * (SUMS_PER_ROW * SUMS_PER_ROW + 3);
const PLANES = 10272;

type Plane = { -readonly [K in keyof GrayPlane]: GrayPlane[K] } & { readonly address: number };

/**
 * A frame's luma and its means, in the memory of a program that samples and sums them: what costs most of reading a film.
 *
 * The memory is used again for the next frame of the same size.
 */
export class FramePixels implements FramePlanes, RaySource {
  readonly full: GrayPlane;
  readonly half: GrayPlane;
  readonly quarter: GrayPlane;
  readonly #planes: readonly [full: Plane, half: Plane, quarter: Plane];
  readonly #memory = wasmMemory(PLANES);
  readonly #program = start({ pixels: { memory: this.#memory } });
  /** Where free memory begins, bytes. */
  #free = PLANES;
  /** Where points that were placed stand. */
  readonly #points = new Map<TemplatePoints, number>();
  #radii = { address: 0, count: 0 };

  private constructor({ width, height }: LumaFrame) {
    // Rows of whole sixteens of pixels, in fours: no look is needed at where the picture ends.
    const stride = 16 * Math.ceil(width / 16);
    const rows = 4 * Math.ceil(height / 4);
    const plane = (shrink: number, pixelBytes: number): Plane => ({
      ...{ width: Math.floor(width / shrink), height: Math.floor(height / shrink), stride: stride / shrink },
      ...{ address: this.#reserve((pixelBytes * stride * rows) / shrink ** 2), values: new Uint8Array(0) },
    });
    this.#planes = [plane(1, 1), plane(2, 4), plane(4, 4)];
    [this.full, this.half, this.quarter] = this.#planes;
    this.#lookAgain();
  }

  /** The pixels of a frame, in the memory of another one of the same size that is done with. */
  static of(frame: LumaFrame, used?: FramePixels): FramePixels {
    const { width, height, stride, luma } = frame;
    const pixels = used?.full.width === width && used.full.height === height ? used : new FramePixels(frame);
    const [full, half, quarter] = pixels.#planes;
    for (let row = 0; row < height; row++)
      full.values.set(luma.subarray(row * stride, row * stride + width), row * full.stride);
    pixels.#program.means(full.address, full.stride, Math.ceil(height / 4), half.address, quarter.address);
    return pixels;
  }

  rays(shrink: 1 | 2, bands: readonly Float64Array[]): RayMeans {
    const rings = bands[0]!.length;
    if (this.#radii.count < bands.length * rings) {
      this.#radii = { address: this.#reserve(8 * bands.length * rings), count: bands.length * rings };
      this.#lookAgain();
    }
    const { address } = this.#radii;
    const { buffer } = this.#memory;
    bands.forEach((radii, band) => {
      new Float64Array(buffer, address + 8 * rings * band, rings).set(radii);
    });
    const means = new Float32Array(buffer, BLOCK, bands.length);
    const [plane, line, right, bottom] = this.#numbersOf(shrink);
    const isBytes = shrink === 1 ? 1 : 0;
    return (...ray) => {
      this.#program.ray(plane, line, right, bottom, isBytes, address, bands.length, rings, BLOCK, ...ray);
      return means;
    };
  }

  /** Sums the equations of one step of a registration. */
  sum(points: TemplatePoints, { numbers, size, near, far, onlyRight }: StepSetup): StepSums {
    const at = this.#placed(points);
    const { buffer } = this.#memory;
    new Float64Array(buffer, 0, numbers.length).set(numbers);
    const sums = new Float64Array(buffer, SUMS, SUMS_PER_ROW * SUMS_PER_ROW + 2).fill(0);
    const array = arrayBytes(points);
    this.#program.sum(
      ...this.#numbersOf(points.factor),
      ...([at, points.pointCount, array, points.values.length / points.pointCount, near * array, far * array] as const),
      ...([size + 1, onlyRight ? 1 : size + 1] as const),
    );
    const equations = emptyEquations(size);
    for (let row = 0; row < size; row++) {
      equations.right[row] = sums[row + 1]!;
      for (let column = row; column < size; column++)
        equations.matrix[row * size + column] = sums[(row + 1) * SUMS_PER_ROW + column + 1]!;
    }
    return { equations, used: sums.at(-2)!, absolute: sums.at(-1)! };
  }

  /** Puts points into the memory, once. */
  #placed(points: TemplatePoints): number {
    const known = this.#points.get(points);
    if (known !== undefined) return known;
    const { pointCount, fromCentreX, fromCentreY, values, slopesX, slopesY } = points;
    const blurs = values.length / pointCount;
    const array = arrayBytes(points);
    const address = this.#reserve(array * (2 + 3 * blurs));
    this.#lookAgain();
    [fromCentreX, fromCentreY, values, slopesX, slopesY]
      .flatMap((each) =>
        Array.from({ length: each.length / pointCount }, (_, blur) =>
          each.subarray(blur * pointCount, (blur + 1) * pointCount),
        ),
      )
      .forEach((each, index) => {
        new Float32Array(this.#memory.buffer, address + index * array, pointCount).set(each);
      });
    this.#points.set(points, address);
    return address;
  }

  #numbersOf(shrink: 1 | 2 | 4): PlaneNumbers {
    const plane = this.#planes[shrink >> 1]!;
    return [plane.address, (shrink === 1 ? 1 : 4) * plane.stride, plane.width - 2, plane.height - 2];
  }

  /** Whole sixteens of bytes, and sixteen behind them that may be read. */
  #reserve(bytes: number): number {
    const address = this.#free;
    this.#free += 16 * Math.ceil(bytes / 16) + 16;
    const missing = this.#free - this.#memory.buffer.byteLength;
    if (missing > 0) this.#memory.grow(Math.ceil(missing / WASM_PAGE_BYTES));
    return address;
  }

  /** The planes' pixels where the memory is now: it is another one after it has grown. */
  #lookAgain(): void {
    const { buffer } = this.#memory;
    const [full] = this.#planes;
    for (const plane of this.#planes) {
      const length = plane.stride * plane.height;
      plane.values = new (plane === full ? Uint8Array : Float32Array)(buffer, plane.address, length);
    }
  }
}

/** Bytes of an array of a float for each point, to whole fours. */
function arrayBytes({ pointCount }: TemplatePoints): number {
  return 16 * Math.ceil(pointCount / 4);
}
