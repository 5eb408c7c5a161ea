import { describe, expect, it } from "vitest";
import { framePlanes } from "../../../src/importers/video/smooth-sampling.js";

describe("framePlanes", () => {
  it.each([
    [16, 12],
    [20, 14],
    [24, 15],
    [18, 12],
  ])("takes the means of blocks of 2 x 2 and 4 x 4 pixels of a picture of %i x %i", (width, height) => {
    const values = Uint8Array.from({ length: width * height }, (_, at) => (at * 7919) % 251);
    const meanOf = (size: number, column: number, row: number) => {
      let sum = 0;
      for (let down = 0; down < size; down++)
        for (let right = 0; right < size; right++) sum += values[(size * row + down) * width + size * column + right]!;
      return sum / size ** 2;
    };
    const { half, quarter } = framePlanes({ width, height, stride: width, values });
    for (const [size, plane] of [
      [2, half],
      [4, quarter],
    ] as const) {
      expect([plane.width, plane.height]).toEqual([Math.floor(width / size), Math.floor(height / size)]);
      const expected = Array.from({ length: plane.width * plane.height }, (_, at) =>
        meanOf(size, at % plane.width, Math.floor(at / plane.width)),
      );
      expect([...plane.values]).toEqual(expected);
    }
  });
});
