import { describe, expect, it } from "vitest";
import { marksLeftOutText } from "../../src/report/marks-left-out.js";
import { ice2Analysis } from "./analysis-fixtures.js";

const left = (timeS: number) =>
  ({ code: "mark-ignored", timeS, load: "probe-heat-b", why: "outside-recording" }) as const;
const told = (...assumptions: ReturnType<typeof left>[]) =>
  marksLeftOutText({ ...ice2Analysis, assumptions: [{ code: "switching-searched" }, ...assumptions] }, "see below");

describe("marksLeftOutText()", () => {
  it("says nothing where none were, why the first was by the load's name, and how many more", () => {
    expect(told()).toBeNull();
    const first = "The mark at 70 s for Probe heat B was left out: it lies outside the recording.";
    expect(told(left(70))).toBe(first);
    expect(told(left(70), left(75))).toBe(`${first} So was another one; see below.`);
    expect(told(left(70), left(75), left(80))).toBe(`${first} So were 2 others; see below.`);
  });
});
