import { describe, expect, it } from "vitest";
import { mergedTrains } from "../../../src/core/detection/merged-trains.js";
import type { FoundTrain } from "../../../src/core/detection/search.js";

const train = (depthV: number, onsets: readonly number[], onS = 5, more: Partial<FoundTrain> = {}): FoundTrain => ({
  onTimes: onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + onS })),
  score: 10,
  pValue: 1e-6,
  criticalShare: 0.5,
  depthV,
  template: Float64Array.of(-1, onsets.length),
  columns: [Float64Array.of(-1, onsets.length), Float64Array.of(0, 1)],
  ...more,
});

describe("mergedTrains()", () => {
  it("joins pieces of one load: all times in order, mean depth by dips, best score and chance", () => {
    const pieces = [
      train(0.1, [50, 60], 5, { pValue: 1e-8 }),
      train(0.13, [10], 6, { score: 14, pValue: 1e-3, criticalShare: 0.3 }),
    ];
    expect(mergedTrains(pieces)).toEqual([
      {
        onTimes: [
          { onsetS: 10, releaseS: 16 },
          { onsetS: 50, releaseS: 55 },
          { onsetS: 60, releaseS: 65 },
        ],
        score: 14,
        pValue: 1e-8,
        criticalShare: 0.3,
        depthV: expect.closeTo(0.11, 12),
        // What takes both out, and the sum of what both are.
        template: Float64Array.of(-2, 3),
        columns: [Float64Array.of(-1, 2), Float64Array.of(0, 1), Float64Array.of(-1, 1), Float64Array.of(0, 1)],
      },
    ]);
  });

  it("weighs the depths of pieces by their dips", () => {
    const [joined] = mergedTrains([train(0.1, [50, 60, 70]), train(0.13, [10, 20])]);
    expect(joined!.depthV).toBeCloseTo((3 * 0.1 + 2 * 0.13) / 5, 12);
  });

  it("keeps depths apart that differ by more than three tenths of the larger", () => {
    const count = (depthV: number) => mergedTrains([train(0.1, [10]), train(depthV, [30])]).length;
    expect(count(0.0701)).toBe(1);
    expect(count(0.0699)).toBe(2);
    expect(count(0.142)).toBe(1);
    expect(count(0.144)).toBe(2);
  });

  it("keeps on-times apart that differ by a factor of 1.6 or more, by their means", () => {
    const count = (onS: number) => mergedTrains([train(0.1, [10], 5), train(0.1, [30], onS)]).length;
    expect(count(7.9)).toBe(1);
    expect(count(8.1)).toBe(2);
    expect(count(3.2)).toBe(1);
    expect(count(3.1)).toBe(2);
    const mixed = train(0.1, [30]);
    const uneven = {
      ...mixed,
      onTimes: [
        { onsetS: 30, releaseS: 40 },
        { onsetS: 50, releaseS: 52 },
      ],
    };
    expect(mergedTrains([train(0.1, [10], 4), uneven])).toHaveLength(1);
  });

  it("leaves other trains in their places, and none alone", () => {
    const [one, two, three] = [train(0.1, [10]), train(0.5, [20]), train(0.11, [40])];
    expect(mergedTrains([one, two, three]).map(({ onTimes }) => onTimes.length)).toEqual([2, 1]);
    expect(mergedTrains([two])).toEqual([two]);
    expect(mergedTrains([])).toEqual([]);
  });
});
