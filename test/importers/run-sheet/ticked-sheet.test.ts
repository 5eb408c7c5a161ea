import { describe, expect, it } from "vitest";
import { InputError } from "../../../src/importers/input-error.js";
import { readProfile } from "../../../src/importers/profile/profile.js";
import { blankSheet, readTickedSheet } from "../../../src/importers/run-sheet/ticked-sheet.js";

const profile = readProfile(
  `aircraft: ICE-2
loads:
  - { id: fan, name: "Fan: left", kind: resistive, shows: heard, look_for: "a hum # soft" }
  - { id: heat, kind: heater }
  - { id: lamp, kind: resistive, shows: seen, order: 1 }
`,
  "bus.yaml",
);

function sentenceFor(text: string): string {
  try {
    readTickedSheet(text, "check.yaml", profile);
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return "accepted";
}

describe("readTickedSheet()", () => {
  it("readTickedSheet() reads what was found, when, by whom, and takes the sheet's own name where an item has none", () => {
    const text = `date: 2026-03-02
by: J
items:
  - { item: fan, found: heard, when: "10:05", note: faint }
  - { item: lamp, found: not, by: K }
  - { item: heat, found: }
`;
    expect(readTickedSheet(text, "check.yaml", profile)).toEqual({
      date: "2026-03-02",
      by: "J",
      ticks: [
        { load: "fan", found: "heard", when: "10:05", by: "J", note: "faint" },
        { load: "lamp", found: "not", when: null, by: "K", note: null },
      ],
    });
  });

  it.each([
    [
      "an item that is not in the profile",
      "items:\n  - { item: fann, found: heard }",
      "check.yaml, line 2, column 13: items[0].item is 'fann'; write the id of a load of the profile; did you mean 'fan'?",
    ],
    [
      "an item twice",
      "items:\n  - { item: fan }\n  - { item: fan }",
      "check.yaml, line 3, column 13: items[1].item is 'fan'; write each item once; items[0] is this one already",
    ],
    [
      "a tick that is none",
      "items:\n  - { item: fan, found: yes }",
      "check.yaml, line 2, column 25: items[0].found is 'yes'; write seen, heard, felt or not, or leave it empty where nobody looked",
    ],
    [
      "a mistyped key",
      "items:\n  - { item: fan, fund: seen }",
      "check.yaml, line 2, column 18: key 'fund' is not known in items[0]; did you mean 'found'?",
    ],
    [
      "an empty file",
      "",
      "check.yaml: the ticked run sheet is empty; write it anew with busdip plan --check and tick it",
    ],
  ])("readTickedSheet(%s) is refused in one sentence", (_, text, sentence) => {
    expect(sentenceFor(text)).toBe(sentence);
  });
});

describe("blankSheet()", () => {
  it("blankSheet() is read back without a tick, whatever signs stand in the names", () => {
    expect(readTickedSheet(blankSheet(profile), "check.yaml", profile).ticks).toEqual([]);
  });

  it("blankSheet() lists every load in the order of the check", () => {
    expect(blankSheet(profile).match(/item: .*/g)).toEqual(['item: "lamp"', 'item: "fan"', 'item: "heat"']);
  });
});
