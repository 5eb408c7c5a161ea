import { describe, expect, it } from "vitest";
import { InputError } from "../../../src/importers/input-error.js";
import { readProfile } from "../../../src/importers/profile/profile.js";

function sentenceFor(text: string): string {
  try {
    readProfile(text, "bus.yaml");
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return "accepted";
}

describe("readProfile(keys of the whole check)", () => {
  it("readProfile() reads how a load shows, its order, limit, caution, bus, switch and what comes first", () => {
    const profile = readProfile(
      `bus_current_A: { value: 12, u: 1 }
loads:
  - { id: lamp, kind: resistive }
  - { id: fan, kind: resistive, shows: heard, look_for: a hum, order: 2, after: lamp }
  - { id: heat, kind: heater, shows: needle, time_limit_s: 30, caution: Hot., after: [lamp, fan], bus: main, switch: HEAT }
`,
      "bus.yaml",
    );
    expect(profile.busCurrentA).toEqual({ value: 12, u: 1 });
    expect(profile.loads).toEqual([
      { id: "lamp", kind: "resistive", reference: false },
      { id: "fan", kind: "resistive", reference: false, shows: "heard", lookFor: "a hum", order: 2, after: ["lamp"] },
      {
        id: "heat",
        kind: "heater",
        reference: false,
        shows: "needle",
        timeLimitS: 30,
        caution: "Hot.",
        after: ["lamp", "fan"],
        bus: "main",
        switch: "HEAT",
      },
    ]);
  });

  it.each([
    [
      "a load after one that is not there",
      "loads:\n  - { id: lamp, kind: resistive }\n  - { id: fan, kind: resistive, after: lmp }",
      "bus.yaml, line 3, column 40: loads[1] (fan).after is 'lmp'; write ids of this profile, which has no 'lmp'; did you mean 'lamp'?",
    ],
    [
      "a circle",
      "loads:\n  - { id: a, kind: heater, after: b }\n  - { id: b, kind: heater, after: [c] }\n  - { id: c, kind: heater, after: a }",
      "bus.yaml, line 2, column 35: loads[0] (a).after is 'b'; write an order without a circle: a after b after c after a",
    ],
    [
      "a load after itself",
      "loads:\n  - { id: a, kind: heater, after: a }",
      "bus.yaml, line 2, column 35: loads[0] (a).after is 'a'; write an order without a circle: a after a",
    ],
    [
      "a way to show that is none",
      "loads:\n  - { id: a, kind: heater, shows: smelt }",
      "bus.yaml, line 2, column 35: loads[0] (a).shows is 'smelt'; write needle, seen or heard",
    ],
    [
      "a time limit of nothing",
      "loads:\n  - { id: a, kind: heater, time_limit_s: 0 }",
      "bus.yaml, line 2, column 42: loads[0] (a).time_limit_s is 0; write the longest time on in seconds, above 0",
    ],
  ])("readProfile(%s) is refused in one sentence", (_, text, sentence) => {
    expect(sentenceFor(text)).toBe(sentence);
  });
});
