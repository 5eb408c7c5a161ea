import { describe, expect, it } from "vitest";
import { ReadingBuffer } from "../../../src/core/live/reading-buffer.js";

const block = (timesS: readonly number[], voltagesV: readonly number[]) => ({
  timesS: Float64Array.from(timesS),
  voltagesV: Float64Array.from(voltagesV),
});

describe("ReadingBuffer", () => {
  it("hands back all readings so far as one recording, and nothing that was not given", () => {
    const buffer = new ReadingBuffer(undefined);
    buffer.append(block([0, 1], [24, 23]));
    const early = buffer.recording();
    buffer.append(block([1, 2], [22, 21]));
    expect(buffer.recording()).toEqual(block([0, 1, 1, 2], [24, 23, 22, 21]));
    expect(early).toEqual(block([0, 1], [24, 23]));
    expect(buffer.hasCurrent).toBe(false);
    expect(new ReadingBuffer(0.5).recording().clockResolutionS).toBe(0.5);
  });

  it("begins its tenths of a second with the first reading, whenever that is", () => {
    for (const startS of [0, 0.03, 1024.55]) {
      const buffer = new ReadingBuffer(undefined);
      // Three readings in each tenth; all but the first lie clear of its edges.
      const timesS = Array.from({ length: 12 }, (_, i) =>
        i === 0 ? startS : startS + 0.1 * Math.floor(i / 3) + 0.03 * (i % 3) + 0.02,
      );
      buffer.append(
        block(
          timesS,
          timesS.map((_, i) => i),
        ),
      );
      expect(buffer.blocks.meansV).toEqual([1, 4, 7, 10]);
    }
  });

  it("grows beyond its first room and keeps every reading", () => {
    const buffer = new ReadingBuffer(undefined);
    const expected: number[] = [];
    for (let k = 0; k < 7; k++) {
      const values = Array.from({ length: 700 }, (_, i) => k * 700 + i);
      expected.push(...values);
      buffer.append(block(values, values));
    }
    buffer.append(block([], []));
    expect(Array.from(buffer.recording().timesS)).toEqual(expected);
    expect(Array.from(buffer.recording().voltagesV)).toEqual(expected);
    const large = Array.from({ length: 30_000 }, (_, i) => 5000 + i);
    buffer.append(block(large, large));
    expect(Array.from(buffer.recording().timesS)).toEqual([...expected, ...large]);
  });

  it("keeps the current on its own times, and the readings' uncertainties", () => {
    const buffer = new ReadingBuffer(undefined);
    const current = (timesS: readonly number[], currentsA: readonly number[]) => ({
      timesS: Float64Array.from(timesS),
      currentsA: Float64Array.from(currentsA),
    });
    const uncertain = (values: readonly number[]) => ({ readingUncertaintiesV: Float64Array.from(values) });
    buffer.append({ ...block([0, 1], [24, 23]), ...uncertain([0.1, 0.2]), current: current([0.5], [7]) });
    buffer.append({ ...block([2], [22]), ...uncertain([0.3]), current: current([0.5, 1.5], [8, 9]) });
    expect(buffer.recording()).toEqual({
      ...block([0, 1, 2], [24, 23, 22]),
      ...uncertain([0.1, 0.2, 0.3]),
      current: current([0.5, 0.5, 1.5], [7, 8, 9]),
    });
    expect(buffer.hasCurrent).toBe(true);
  });

  it("means the readings of each tenth of a second from the first reading on, times too", () => {
    const buffer = new ReadingBuffer(undefined);
    buffer.append(block([5, 5.03], [1, 2]));
    buffer.append(block([5.06, 5.12, 5.13, 5.42], [6, 10, 20, 7]));
    const { timesS, meansV } = buffer.blocks;
    expect(meansV).toEqual([expect.closeTo(3, 12), expect.closeTo(15, 12), 7]);
    expect(timesS).toEqual([expect.closeTo(5.03, 12), expect.closeTo(5.125, 12), 5.42]);
  });

  it("refuses series of unequal length, times that go back and readings that are none, and keeps what it had", () => {
    const buffer = new ReadingBuffer(undefined);
    buffer.append(block([0, 1], [24, 23]));
    const current = { timesS: Float64Array.of(3, 2), currentsA: Float64Array.of(1, 1) };
    const refused: [Parameters<ReadingBuffer["append"]>[0], string][] = [
      [block([2], [1, 2]), "1 times need as many voltages, got 2"],
      [block([0.9], [1]), "times must not go back, got 0.9 after 1"],
      [block([3, 2], [1, 1]), "times must not go back, got 2 after 3"],
      [block([Number.NaN], [1]), "times must be finite, got NaN"],
      [block([2], [Number.POSITIVE_INFINITY]), "voltages must be finite, got Infinity"],
      [{ ...block([2], [1]), current }, "times of the current must not go back, got 2 after 3"],
      [
        { ...block([2], [1]), current: { timesS: Float64Array.of(2), currentsA: Float64Array.of(Number.NaN) } },
        "currents must be finite, got NaN",
      ],
      [
        { ...block([2], [1]), current: { timesS: Float64Array.of(2), currentsA: Float64Array.of() } },
        "1 times need as many currents, got 0",
      ],
      [
        { ...block([2], [1]), readingUncertaintiesV: Float64Array.of(1) },
        "either every block tells its readings' uncertainties or none does",
      ],
    ];
    for (const [bad, message] of refused)
      expect(() => buffer.append(bad), message).toThrow(`Cannot add readings: ${message}`);
    expect(buffer.recording()).toEqual(block([0, 1], [24, 23]));
    const told = new ReadingBuffer(undefined);
    const one = { ...block([0], [24]), readingUncertaintiesV: Float64Array.of(0.1) };
    expect(() => told.append({ ...one, readingUncertaintiesV: Float64Array.of() })).toThrow(
      "1 times need as many uncertainties, got 0",
    );
    told.append(one);
    expect(() => told.append(block([1], [24]))).toThrow("either every block tells");
    // An empty block tells nothing, neither way.
    told.append(block([], []));
    expect(told.recording().timesS).toHaveLength(1);
  });
});
