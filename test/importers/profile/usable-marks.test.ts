import { describe, expect, it } from "vitest";
import { refuseUnusableMarks } from "../../../src/importers/profile/usable-marks.js";

const recording = { timesS: Float64Array.from([10, 20, 60.04]), voltagesV: new Float64Array(3) };
const mark = (timeS: number, action: "on" | "off" = "on") => ({ timeS, load: "a", action });
const refusing =
  (...marks: ReturnType<typeof mark>[]) =>
  () =>
    refuseUnusableMarks(marks, recording);

describe("refuseUnusableMarks()", () => {
  it("takes no marks, and marks of which one turns a load on within the recording", () => {
    expect(refusing()).not.toThrow();
    expect(refusing(mark(5), mark(10), mark(70, "off"))).not.toThrow();
    expect(refusing(mark(60.03))).not.toThrow();
  });

  it("names both spans where all lie outside", () => {
    const remedy = "mark seconds of the recording's own axis, or say with --marks-offset by how much the marks are off";
    expect(refusing(mark(71.26), mark(-3, "off"))).toThrow(
      `all 2 marks, from -3 s to 71.3 s, lie outside the recording, which goes from 10 s to 60 s; ${remedy}`,
    );
    expect(refusing(mark(9.99))).toThrow(
      `the only mark, at 10 s, lies outside the recording, which goes from 10 s to 60 s; ${remedy}`,
    );
  });

  it("asks for an on where none within the recording turns a load on before its end", () => {
    const asks =
      /^no mark within the recording says when a load went on; mark when each load went on, and when it went off$/;
    expect(refusing(mark(20, "off"), mark(70))).toThrow(asks);
    expect(refusing(mark(10, "off"), mark(60.04))).toThrow(asks);
  });
});
