import { describe, expect, it } from "vitest";
import { markOffsetFrom, marksOnClock } from "../../src/cli/mark-offset.js";
import { readMarks } from "../../src/importers/profile/marks.js";

const recording = {
  timesS: Float64Array.from({ length: 600 }, (_, i) => i / 10),
  voltagesV: Float64Array.from({ length: 600 }, (_, i) => 24.5 + 0.01 * Math.sin(i * i)),
};
const marksText = "time_s,load,action\n10,a,on\n15,a,off\n";
const given = { marks: readMarks(marksText, "marks.csv", null), marksText };

describe("--marks-offset", () => {
  it("reads seconds or find, and nothing else", () => {
    expect(markOffsetFrom("-3.5")).toBe(-3.5);
    expect(markOffsetFrom("find")).toBe("find");
    for (const wrong of ["", " ", "soon", "1e99"]) expect(() => markOffsetFrom(wrong)).toThrow(/--marks-offset is/);
  });

  it("adds the seconds to every mark, and the text that the record carries says the same", async () => {
    const set = await marksOnClock(given, 7.25, recording, null);
    expect(set.marks.map(({ timeS }) => timeS)).toEqual([17.25, 22.25]);
    expect(readMarks(set.marksText!, "marks.csv", null)).toEqual(set.marks);
    expect(set.sentence).toContain("7.250 s");
    expect(await marksOnClock(given, undefined, recording, null)).toEqual({ ...given, sentence: null });
  });

  it("refuses where all marks lie outside the recording, and not where some do", async () => {
    expect((await marksOnClock(given, 48, recording, null)).marks.map(({ timeS }) => timeS)).toEqual([58, 63]);
    for (const offset of [36000, -20]) {
      await expect(marksOnClock(given, offset, recording, null)).rejects.toThrow(
        `all 2 marks, from ${10 + offset} s to ${15 + offset} s, lie outside the recording, which goes from 0 s to 59.9 s; ` +
          "mark seconds of the recording's own axis, or say with --marks-offset by how much the marks are off",
      );
    }
  });

  it("refuses where there is nothing to set, or nothing tells the offset", async () => {
    await expect(marksOnClock({ marks: [], marksText: null }, 3, recording, null)).rejects.toThrow(/without any marks/);
    await expect(marksOnClock(given, "find", recording, null)).rejects.toThrow(
      /no dips of the recording|fit the marks/,
    );
  });
});
