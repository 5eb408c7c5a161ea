import { describe, expect, it } from "vitest";
import { formatDial, parseDial } from "../../../src/importers/video/dial.js";
import { codedPlace, uprightPlace } from "../../../src/importers/video/upright.js";

const text = `still: { time_s: 5.0, width: 1920, height: 1080 }
pivot: { x: 941, y: 799 }
marks:
  - { x: 690, y: 541, volts: 0 }
  - { x: 1131, y: 511, volts: 25 }
`;

describe("parseDial", () => {
  it("reads what a person wrote, and formatDial writes it back", () => {
    const dial = parseDial(text, "dial.yaml");
    expect(dial).toEqual({
      still: { timeS: 5, width: 1920, height: 1080 },
      pivot: { x: 941, y: 799 },
      marks: [
        { x: 690, y: 541, volts: 0 },
        { x: 1131, y: 511, volts: 25 },
      ],
    });
    expect(parseDial(formatDial(dial), "again.yaml")).toEqual(dial);
  });

  it("names line and remedy for a mark without volts", () => {
    expect(() => parseDial(text.replace(", volts: 25", ""), "dial.yaml")).toThrow(
      "dial.yaml, line 5: marks[1].volts is missing; write the mark's volts, a number",
    );
  });

  it("refuses two marks of one voltage, a mark outside the still, and a single mark", () => {
    expect(() => parseDial(text.replace("volts: 25", "volts: 0"), "d")).toThrow("both say 0 V");
    expect(() => parseDial(text.replace("x: 1131", "x: 2131"), "d")).toThrow("outside the still of 1920 x 1080 pixels");
    expect(() => parseDial(text.split("\n").slice(0, 4).join("\n"), "d")).toThrow("two or more marks");
  });
});

describe("codedPlace", () => {
  it("undoes uprightPlace for every rotation", () => {
    for (const rotationDeg of [0, 90, 180, 270] as const) {
      const picture = { width: 1920, height: 1080, rotationDeg };
      expect(codedPlace(picture, uprightPlace(picture, { x: 100, y: 30 }))).toEqual({ x: 100, y: 30 });
    }
  });

  it("puts the upright left top corner of a clip turned clockwise by 90 degrees at the coded left bottom", () => {
    expect(codedPlace({ width: 1920, height: 1080, rotationDeg: 90 }, { x: 0, y: 0 })).toEqual({ x: 0, y: 1079 });
  });
});
