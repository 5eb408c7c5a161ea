import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { InputError } from "../../../src/importers/input-error.js";
import { readMarks, toldUncertaintyS, writeMarks } from "../../../src/importers/profile/marks.js";
import { readProfile } from "../../../src/importers/profile/profile.js";

const profile = readProfile(
  "loads: [{ id: probe-heat, kind: heater }, { id: landing-light, kind: resistive }]",
  "bus.yaml",
);

function sentenceFor(text: string): string {
  try {
    readMarks(text, "marks.csv", profile);
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return "accepted";
}

describe("readMarks()", () => {
  it("readMarks() sorts by time and takes an empty load as not told", () => {
    const text = "# heard on the tape\ntime_s,load,action\n17.5,,off\n12.25,probe-heat,on\n";
    expect(readMarks(text, "marks.csv", profile)).toEqual([
      { timeS: 12.25, load: "probe-heat", action: "on" },
      { timeS: 17.5, load: null, action: "off" },
    ]);
  });

  it("readMarks() takes columns in any order and case, semicolons and decimal commas", () => {
    const text = "\uFEFFAction;Time_s;Load\r\nON;12,25;probe-heat\r\n";
    expect(readMarks(text, "marks.csv", profile)).toEqual([{ timeS: 12.25, load: "probe-heat", action: "on" }]);
  });

  it("readMarks() without a profile takes any load", () => {
    expect(readMarks("time_s,load,action\n1,pump,on\n", "marks.csv", null)[0]!.load).toBe("pump");
  });

  it.each([
    ["an empty file", "", "marks.csv: the file of switching marks is empty; begin with the line time_s,load,action"],
    [
      "a header only",
      "time_s,load,action\n",
      "marks.csv: the file has a header but no switching marks; write one line per switching, such as 12.5,probe-heat,on, or leave out --marks",
    ],
    [
      "another header",
      "time,load,action\n1,probe-heat,on\n",
      "marks.csv, line 1: there is no column 'time_s' (found 'time', 'load', 'action'); begin with the line time_s,load,action",
    ],
    [
      "an unknown load",
      "time_s,load,action\n1,probe-heat,on\n2,prob-heat,off\n",
      "marks.csv, line 3: load 'prob-heat' is not in the profile; did you mean 'probe-heat'? Write one of probe-heat, landing-light",
    ],
    ["another action", "time_s,load,action\n1,probe-heat,onn\n", "marks.csv, line 2: action is 'onn'; write on or off"],
    [
      "text for a time",
      "time_s,load,action\n10:03,probe-heat,on\n",
      "marks.csv, line 2: time_s is '10:03'; write seconds from the recording's own zero, such as 12.5",
    ],
    [
      "NaN for a time",
      "time_s,load,action\nNaN,probe-heat,on\n",
      "marks.csv, line 2: time_s is 'NaN'; write seconds from the recording's own zero, such as 12.5",
    ],
    ["a short line", "time_s,load,action\n1,probe-heat\n", "marks.csv, line 2: action is ''; write on or off"],
    [
      "a stray quote",
      'time_s,load,action\n1,"probe-heat,on\n',
      "marks.csv, line 2: the line cannot be split into cells, probably because of a stray quote; write each line as time_s,load,action, such as 12.5,probe-heat,on",
    ],
    [
      "a binary file",
      "\u0000\u0001",
      "marks.csv: this is a binary file, not a list of switching marks; give the CSV file with the columns time_s,load,action",
    ],
  ])("readMarks(%s) is refused in one sentence", (_, text, sentence) => {
    expect(sentenceFor(text)).toBe(sentence);
  });
});

describe("toldUncertaintyS()", () => {
  const marks = [{ timeS: 2, load: null, action: "on" as const }];

  it("is what was written with the marks, which are read as before", () => {
    const text = writeMarks(marks, 0.1);
    expect(toldUncertaintyS(text)).toBe(0.1);
    expect(toldUncertaintyS(text.replaceAll("\n", "\r\n"))).toBe(0.1);
    expect(readMarks(text, "marks.csv", null)).toEqual(marks);
  });

  it("is null where none is told, or none that marks can have", () => {
    expect(toldUncertaintyS(writeMarks(marks))).toBeNull();
    for (const told of ["0", "0.001", "6", "-1", "x"])
      expect(toldUncertaintyS(`# times known to ${told} s (standard uncertainty)\n${writeMarks(marks)}`)).toBeNull();
  });
});

describe("writeMarks()", () => {
  it("writeMarks() then readMarks() gives the same marks", () => {
    const mark = fc.record({
      timeS: fc.double({ min: -1e6, max: 1e9, noNaN: true }).map((timeS) => timeS + 0),
      load: fc.constantFrom("probe-heat", "landing-light", null),
      action: fc.constantFrom("on" as const, "off" as const),
    });
    fc.assert(
      fc.property(fc.array(mark, { minLength: 1, maxLength: 20 }), (marks) => {
        const sorted = [...marks].sort((a, b) => a.timeS - b.timeS);
        expect(readMarks(writeMarks(sorted), "marks.csv", profile)).toEqual(sorted);
      }),
    );
  });
});
