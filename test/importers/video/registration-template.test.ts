import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { BLURS, quickTemplate } from "../../../src/importers/video/registration-template.js";
import { framePlanes, sampleSmooth } from "../../../src/importers/video/smooth-sampling.js";

describe("quickTemplate", () => {
  const random = randomSource(5);
  const [width, height] = [88, 72];
  // Blotches on plain ground, some of them beside the ends.
  const values = Float32Array.from({ length: width * height }, (_, at) => {
    const [column, row] = [at % width, Math.floor(at / width)];
    const isBlotch = Math.floor(column / 4) % 3 === 0 && Math.floor(row / 4) % 3 === 0;
    return 128 + (isBlotch ? 60 : 1) * random.normal();
  });
  const planes = framePlanes({ width, height, stride: width, values });
  const centre = { x: 40, y: 30, lengthPx: 30 };
  const { fine } = quickTemplate(planes, centre, () => true, 2000);

  /** The mean of smooth samples at whole shifts by a Gaussian's weights, of those that lie in the plane. */
  function blurred(x: number, y: number, variance: number): number {
    if (variance === 0) return sampleSmooth(planes.half, x, y);
    const reach = Math.ceil(2.5 * Math.sqrt(variance));
    let [sum, weights] = [0, 0];
    for (let down = -reach; down <= reach; down++) {
      for (let right = -reach; right <= reach; right++) {
        const value = sampleSmooth(planes.half, x + right, y + down);
        if (Number.isNaN(value)) continue;
        const weight = Math.exp(-(right * right + down * down) / (2 * variance));
        sum += weight * value;
        weights += weight;
      }
    }
    return sum / weights;
  }

  it("gives value and slopes of the blurred reference, also beside the plane's ends", () => {
    let besideEnd = 0;
    for (let index = 0; index < fine.pointCount; index++) {
      const column = (fine.fromCentreX[index]! + centre.x - 0.5) / 2;
      const row = (fine.fromCentreY[index]! + centre.y - 0.5) / 2;
      if (Math.min(column, row, planes.half.width - 1 - column, planes.half.height - 1 - row) < 6) besideEnd++;
      BLURS.forEach((variance, level) => {
        const at = level * fine.pointCount + index;
        const seen = (x: number, y: number) => blurred(x, y, variance);
        expect(fine.values[at]).toBeCloseTo(seen(column, row), 9);
        expect(fine.slopesX[at]).toBeCloseTo((seen(column + 0.5, row) - seen(column - 0.5, row)) / 2, 9);
        expect(fine.slopesY[at]).toBeCloseTo((seen(column, row + 0.5) - seen(column, row - 0.5)) / 2, 9);
      });
    }
    expect(fine.pointCount).toBeGreaterThan(50);
    expect(besideEnd).toBeGreaterThan(10);
  });
});
