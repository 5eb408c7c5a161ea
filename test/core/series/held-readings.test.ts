import { describe, expect, it } from "vitest";
import { copyNote, withoutCopies } from "../../../src/core/series/held-readings.js";

/** Each value as often as told, ten rows a second. */
function held(lengths: readonly number[], values: (k: number) => number = (k) => k % 97) {
  const voltagesV = Float64Array.from(lengths.flatMap((length, k) => new Array<number>(length).fill(values(k))));
  return { timesS: voltagesV.map((_, i) => i / 10), voltagesV };
}
const same = (length: number, count: number) => new Array<number>(count).fill(length);

describe("withoutCopies()", () => {
  it("keeps the first reading of each update, with its own time and uncertainty", () => {
    const recording = held(same(4, 30));
    const readingUncertaintiesV = recording.timesS.map((_, i) => i);
    const found = withoutCopies({ ...recording, readingUncertaintiesV });
    expect(found.copies).toBe(4);
    expect(Array.from(found.recording.voltagesV)).toEqual(same(0, 30).map((_, k) => k));
    expect(Array.from(found.recording.timesS)).toEqual(same(0, 30).map((_, k) => (4 * k) / 10));
    expect(Array.from(found.recording.readingUncertaintiesV!)).toEqual(same(0, 30).map((_, k) => 4 * k));
    expect("readingUncertaintiesV" in withoutCopies(recording).recording).toBe(false);
  });

  it("parts a run of several equal updates again, evenly", () => {
    // A value that came twice in a row: eight rows are two updates.
    const found = withoutCopies(held([...same(4, 15), 8, ...same(4, 15)]));
    expect(found.copies).toBe(4);
    expect(found.recording.timesS).toHaveLength(32);
    expect(Array.from(found.recording.timesS.subarray(14, 18))).toEqual([5.6, 6, 6.4, 6.8]);
    expect(found.recording.voltagesV[15]).toBe(found.recording.voltagesV[16]);
  });

  it("takes twofold readings for a coarse display, three for copies", () => {
    expect(withoutCopies(held(same(2, 60)))).toEqual({ recording: held(same(2, 60)), copies: 1 });
    expect(withoutCopies(held(same(3, 60))).copies).toBe(3);
  });

  it("asks for twenty runs", () => {
    expect(withoutCopies(held(same(4, 19))).copies).toBe(1);
    expect(withoutCopies(held(same(4, 20))).copies).toBe(4);
  });

  it("takes no notice of the first and the last run, which the log cut off", () => {
    expect(withoutCopies(held([1, ...same(4, 20), 2])).copies).toBe(4);
  });

  it("lets a tenth of the runs keep no beat, and no more; runs of eight and longer may be off by one", () => {
    const odd = (count: number, length = 5) =>
      withoutCopies(held([4, ...Array.from({ length: 40 }, (_, k) => (k < count ? length : 4)), 4])).copies;
    expect(odd(4)).toBe(4);
    expect(odd(5)).toBe(1);
    const jitter = (length: number) =>
      withoutCopies(held(Array.from({ length: 40 }, (_, k) => length + (k % 2)))).copies;
    expect(jitter(8)).toBe(8);
    expect(jitter(7)).toBe(1);
  });

  it("lets that tenth be single readings too", () => {
    const odd = (count: number) =>
      withoutCopies(held([3, ...Array.from({ length: 40 }, (_, k) => (k % 10 < count ? 1 : 3)), 3])).copies;
    // A tenth of 40 runs are the shortest four: the fifth shortest is the beat.
    expect(odd(1)).toBe(3);
    expect(odd(2)).toBe(1);
  });

  it("does not take a display that rounds slow noise for copies", () => {
    const lengths = Array.from({ length: 60 }, (_, k) => 3 + ((k * 7) % 11));
    expect(withoutCopies(held(lengths)).copies).toBe(1);
  });

  it("leaves a recording of ever new readings alone", () => {
    const recording = held(same(1, 100));
    expect(withoutCopies(recording).recording).toBe(recording);
    expect(withoutCopies(held([])).copies).toBe(1);
  });
});

describe("copyNote()", () => {
  it("tells how many copies each update had and how many readings are left, where there were any", () => {
    const recording = held(same(1, 7));
    expect(copyNote(4, recording)).toEqual([{ code: "copies-left-out", copies: 4, readingCount: 7 }]);
    expect(copyNote(1, recording)).toEqual([]);
  });
});
