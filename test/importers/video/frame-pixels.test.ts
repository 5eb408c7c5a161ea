import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { FramePixels } from "../../../src/importers/video/frame-pixels.js";
import { addEquation, emptyEquations } from "../../../src/importers/video/normal-equations.js";
import { PIXEL_SUMS_CODE } from "../../../src/importers/video/pixel-sums-code.js";
import type { TemplatePoints } from "../../../src/importers/video/registration-template.js";
import { framePlanes, type GrayPlane, raySource, sampleSmooth } from "../../../src/importers/video/smooth-sampling.js";
import { assembled } from "../wasm-code.js";

function frameOf(width: number, height: number, stride: number, seed: number) {
  const random = randomSource(seed);
  const luma = Uint8Array.from({ length: stride * height }, () => Math.floor(256 * random.uniform()));
  return { timeS: 0, width, height, stride, luma };
}

/** The pixels of a plane, without what lies between its rows. */
function rowsOf({ width, height, stride, values }: GrayPlane): number[] {
  return Array.from({ length: width * height }, (_, at) => values[Math.floor(at / width) * stride + (at % width)]!);
}

describe("pixel-sums.wat", () => {
  it("is what the program in use was assembled from", async () => {
    expect(await assembled("video/pixel-sums")).toBe(PIXEL_SUMS_CODE);
  });
});

/** A step of a registration as `pixel-sums.wat` takes it. */
function stepNumbers(factor: number, size: 8 | 14) {
  const place = [91.3, 68.8, 1.02, 3e-4, -2e-4, 0.03, 1e-4, -0.02, 2e-4, 0.97, -3e-4, 1 / factor];
  const seen = [0.9, 7, size === 14 ? 0.3 : 0, 1 / 33, 0.95, -0.02, 0.03, 1.01, 1 / 60, 0.8];
  return { numbers: [...place, ...seen], size, ...(size === 14 ? { near: 1, far: 2 } : { near: 0, far: 0 }) };
}

/** The same sums, one equation after the other: weights by Cauchy's function of the error, slopes of the whole warp. */
function oneByOne(pixels: FramePixels, points: TemplatePoints, step: ReturnType<typeof stepNumbers>) {
  const { numbers, size, near, far } = step;
  const [originX, originY, xx, xxx, xxy, xy, xyy, yx, yxy, yy, yyy] = numbers;
  const [gain, offset, part, perScale, backXX, backXY, backYX, backYY, perLength, blurGain] = numbers.slice(12);
  const { pointCount, factor } = points;
  const plane = factor === 2 ? pixels.half : pixels.quarter;
  const slow = emptyEquations(size);
  let [used, absolute, outside] = [0, 0, 0];
  for (let index = 0; index < pointCount; index++) {
    const [dx, dy] = [points.fromCentreX[index]!, points.fromCentreY[index]!];
    const x = originX! + xx! * dx + xxx! * dx * dx + xxy! * dx * dy + xy! * dy + xyy! * dy * dy;
    const y = originY! + yx! * dx + yxy! * dx * dy + yy! * dy + yyy! * dy * dy;
    const value = sampleSmooth(plane, x / factor, y / factor);
    if (Number.isNaN(value)) {
      outside++;
      continue;
    }
    const [first, second] = [near * pointCount + index, far * pointCount + index];
    const between = (of: Float64Array) => (1 - part!) * of[first]! + part! * of[second]!;
    const reference = between(points.values);
    const error = value - gain! * reference - offset!;
    const weight = 1 / (1 + (error * perScale!) ** 2);
    used += weight;
    absolute += weight * Math.abs(error);
    const [ownX, ownY] = [between(points.slopesX), between(points.slopesY)];
    const [slopeX, slopeY] = [backXX! * ownX + backXY! * ownY, backYX! * ownX + backYY! * ownY];
    const [ux, uy] = [dx * perLength!, dy * perLength!];
    const row = [(128 - reference) / 64, -1, slopeX, slopeY, slopeX * ux, slopeX * uy, slopeY * ux, slopeY * uy];
    const bends = [slopeX * ux * ux, slopeX * ux * uy, slopeX * uy * uy, slopeY * ux * uy, slopeY * uy * uy];
    const blur = -blurGain! * (points.values[second]! - points.values[first]!);
    addEquation(slow, size === 14 ? [...row, ...bends, blur] : row, -error, weight);
  }
  return { slow, used, absolute, outside };
}

describe("FramePixels", () => {
  it.each([
    [16, 12, 16],
    [20, 14, 24],
    [37, 15, 37],
    [90, 50, 96],
  ])("takes the means of blocks of 2 x 2 and 4 x 4 pixels of a picture of %i x %i", (width, height, stride) => {
    const frame = frameOf(width, height, stride, 3);
    // In memory that held another frame.
    const quick = FramePixels.of(frame, FramePixels.of(frameOf(width, height, width, 4)));
    const slow = framePlanes({ ...frame, values: frame.luma });
    for (const [size, plane] of [quick, slow].flatMap(
      ({ full, half, quarter }) =>
        [
          [1, full],
          [2, half],
          [4, quarter],
        ] as const,
    )) {
      expect([plane.width, plane.height]).toEqual([Math.floor(width / size), Math.floor(height / size)]);
      const expected = Array.from({ length: plane.width * plane.height }, (_, at) => {
        const [left, top] = [size * (at % plane.width), size * Math.floor(at / plane.width)];
        let sum = 0;
        for (let down = 0; down < size; down++)
          for (let right = 0; right < size; right++) sum += frame.luma[(top + down) * stride + left + right]!;
        return sum / size ** 2;
      });
      expect(rowsOf(plane)).toEqual(expected);
    }
  });

  it.each([1, 2] as const)("takes the means along rays that the smooth samples have, shrunk %i times", (shrink) => {
    const frame = frameOf(70, 60, 80, 5);
    const pixels = FramePixels.of(frame);
    const slow = raySource({ full: { ...frame, values: frame.luma } });
    const bands = [
      [3, 4.5, 6],
      [7.5, 9, 10.5],
    ].map((radii) => Float64Array.from(radii));
    const [quick, same] = [pixels.rays(shrink, bands), slow.rays(shrink, bands)];
    const random = randomSource(6);
    let outside = 0;
    for (let count = 0; count < 200; count++) {
      const angle = 6.3 * random.uniform();
      const [originX, originY] = [(70 / shrink) * random.uniform(), (60 / shrink) * random.uniform()];
      const [bendX, bendY] = [0.02 * random.normal(), 0.02 * random.normal()];
      const ray = [originX, originY, Math.cos(angle), Math.sin(angle), bendX, bendY, 1 / shrink] as const;
      const expected = same(...ray);
      quick(...ray).forEach((mean, band) => {
        if (Number.isNaN(expected[band])) outside++;
        else expect(mean).toBeCloseTo(expected[band]!, 3);
        expect(Number.isNaN(mean)).toBe(Number.isNaN(expected[band]));
      });
    }
    expect(outside).toBeGreaterThan(20);
    expect(outside).toBeLessThan(380);
  });

  it("holds its planes where rays need more memory than there was, and takes the next frame", () => {
    const [first, second] = [frameOf(70, 60, 70, 9), frameOf(70, 60, 70, 10)];
    const pixels = FramePixels.of(first);
    const seen = rowsOf(pixels.half);
    // More than a page of radii: the memory grows, and views of it as it was are gone.
    const band = Float64Array.from({ length: 10_000 }, (_, ring) => 2 + ring / 1000);
    pixels.rays(1, [band])(35, 30, 1, 0, 0, 0, 1);
    expect(rowsOf(pixels.half)).toEqual(seen);
    expect(rowsOf(FramePixels.of(second, pixels).full)).toEqual([...second.luma]);
  });

  it.each([
    [2, 14, 301],
    [4, 8, 128],
    [2, 14, 5],
  ] as const)(
    "sums a registration's equations as one by one, 1 of %i pixels, %i unknowns, %i points",
    (factor, size, pointCount) => {
      const random = randomSource(7 + pointCount);
      const [width, height] = [180, 140];
      const frame = frameOf(width, height, 192, 8);
      const pixels = FramePixels.of(frame);
      const blurs = factor === 2 ? 4 : 1;
      const normals = (count: number, scale: number) =>
        Float64Array.from({ length: count }, () => scale * random.normal());
      const points: TemplatePoints = {
        factor,
        pointCount,
        fromCentreX: normals(pointCount, 45),
        fromCentreY: normals(pointCount, 35),
        values: normals(pointCount * blurs, 40).map((value) => 120 + value),
        slopesX: normals(pointCount * blurs, 9),
        slopesY: normals(pointCount * blurs, 9),
      };
      const { numbers, near, far } = stepNumbers(factor, size);
      const { slow, used, absolute, outside } = oneByOne(pixels, points, { numbers, size, near, far });
      if (pointCount > 100) expect(outside).toBeGreaterThan(3);
      for (const onlyRight of [false, true]) {
        const sums = pixels.sum(points, { numbers, size, near, far, onlyRight });
        expect(sums.used / used).toBeCloseTo(1, 5);
        expect(sums.absolute / absolute).toBeCloseTo(1, 5);
        // Against what the rows' lengths could give: sums of products of either sign may be small by chance.
        const lengths = Array.from({ length: size }, (_, at) => Math.sqrt(slow.matrix[at * size + at]!));
        for (let row = 0; row < size; row++) {
          expect((sums.equations.right[row]! - slow.right[row]!) / (lengths[row]! * Math.sqrt(used) * 33)).toBeCloseTo(
            0,
            5,
          );
          for (let column = onlyRight ? size : row; column < size; column++) {
            const at = row * size + column;
            const off = (sums.equations.matrix[at]! - slow.matrix[at]!) / (lengths[row]! * lengths[column]!);
            expect(off).toBeCloseTo(0, 5);
          }
        }
      }
    },
  );
});
