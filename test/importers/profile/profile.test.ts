import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { InputError } from "../../../src/importers/input-error.js";
import { readProfile } from "../../../src/importers/profile/profile.js";
import { profileJsonSchema } from "../../../src/importers/profile/profile-json-schema.js";

const whole = `aircraft: ICE-2
bus: essential
battery: { id: B-0417, chemistry: lead-acid, cells: 12, capacity_Ah: 44, installed: 2026-03-02,
           resistance_mOhm: { value: 9.5, u: 1.5 } }
path_resistance_mOhm: { value: 3.0, u: 0.5 }
meter: { full_scale_V: 30, smallest_division_V: 1, zero_V: 0, scale_rises: anticlockwise, lag_s: 0.25 }
required_endurance_min: 30
loads:
  - { id: probe-heat, name: Heated probe, kind: heater,
      rated: { power_W: 160, at_V: 28 }, accept_A: [4.0, 7.5], reference: false }
  - { id: lamp, kind: resistive, rated: { current_A: 8.9, tolerance_pct: 4 }, reference: true }
`;

/** The one sentence that a faulty profile is answered with. */
function sentenceFor(text: string): string {
  try {
    readProfile(text, "bus.yaml");
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return "accepted";
}

const oneLoad = (lines: string) => `loads:\n  - id: probe\n    kind: heater\n${lines}`;

describe("readProfile()", () => {
  it("readProfile(whole profile) turns milliohms and per cent into SI units", () => {
    const profile = readProfile(whole, "bus.yaml");
    expect(profile).toEqual({
      aircraft: "ICE-2",
      bus: "essential",
      battery: {
        id: "B-0417",
        chemistry: "lead-acid",
        cells: 12,
        capacityAh: 44,
        installed: "2026-03-02",
        resistanceOhm: { value: expect.closeTo(0.0095, 9), u: expect.closeTo(0.0015, 9) },
      },
      pathResistanceOhm: { value: expect.closeTo(0.003, 9), u: expect.closeTo(0.0005, 9) },
      meter: { fullScaleV: 30, smallestDivisionV: 1, zeroV: 0, scaleRises: "anticlockwise", lagS: 0.25 },
      requiredEnduranceMin: 30,
      loads: [
        {
          id: "probe-heat",
          name: "Heated probe",
          kind: "heater",
          rated: { powerW: 160, atV: 28 },
          acceptA: [4, 7.5],
          reference: false,
        },
        { id: "lamp", kind: "resistive", rated: { currentA: 8.9, toleranceFraction: 0.04 }, reference: true },
      ],
    });
  });

  it("readProfile(byte-order mark and CRLF) reads the same profile", () => {
    const windows = `\uFEFF${whole.replaceAll("\n", "\r\n")}`;
    expect(readProfile(windows, "bus.yaml")).toEqual(readProfile(whole, "bus.yaml"));
  });

  it("readProfile() takes several reference loads", () => {
    const load = (id: string) => `  - { id: ${id}, kind: resistive, rated: { current_A: 5 }, reference: true }`;
    const two = ["loads:", load("lamp"), load("pump")].join("\n");
    expect(readProfile(two, "bus.yaml").loads.map((load) => load.reference)).toEqual([true, true]);
  });

  it.each([
    [
      "a mistyped key",
      oneLoad("    acept_A: [4, 7]"),
      "bus.yaml, line 4, column 5: key 'acept_A' is not known in loads[0] (probe); did you mean 'accept_A'?",
    ],
    [
      "a mistyped top key",
      "batery: {}",
      "bus.yaml, line 1, column 1: key 'batery' is not known; did you mean 'battery'?",
    ],
    [
      "a key in the wrong unit's case",
      oneLoad("    rated: { power_w: 160, at_V: 28 }"),
      "bus.yaml, line 4, column 14: key 'power_w' is not known in loads[0] (probe).rated; did you mean 'power_W'?",
    ],
    [
      "a key like no other",
      "wiring: thick",
      "bus.yaml, line 1, column 1: key 'wiring' is not known; known keys are aircraft, bus, battery, path_resistance_mOhm, meter, required_endurance_min, bus_current_A, loads",
    ],
    [
      "two ways of rating at once",
      oneLoad("    rated: { current_A: 5, power_W: 160, at_V: 28 }"),
      "bus.yaml, line 4, column 14: key 'current_A' cannot stand beside 'power_W' and 'at_V' in loads[0] (probe).rated; leave out the one or the other",
    ],
    [
      "a power without its voltage",
      oneLoad("    rated: { power_W: 160 }"),
      "bus.yaml, line 4, column 12: loads[0] (probe).rated.at_V is missing; write the voltage of the rating in volts, above 0",
    ],
    [
      "limits the wrong way round",
      oneLoad("    accept_A: [7.5, 4]"),
      "bus.yaml, line 4, column 15: loads[0] (probe).accept_A is [7.5, 4]; write the lower current first, then the higher",
    ],
    [
      "a negative limit",
      oneLoad("    accept_A: [4, -7]"),
      "bus.yaml, line 4, column 19: loads[0] (probe).accept_A[1] is -7; write a current in amperes above 0; a lowest acceptable current of 0 would pass a dead load",
    ],
    [
      "an unknown kind",
      "loads:\n  - { id: probe, kind: heatr }",
      "bus.yaml, line 2, column 24: loads[0] (probe).kind is 'heatr'; write heater, resistive, constant-power or constant-current",
    ],
    [
      "an id twice",
      "loads:\n  - { id: probe, kind: heater }\n  - { id: probe, kind: heater }",
      "bus.yaml, line 3, column 11: loads[1] (probe).id is 'probe'; write another id, since loads[0] has this one already",
    ],
    [
      "an id that YAML reads as a number",
      "loads:\n  - { id: 0417, kind: heater }",
      "bus.yaml, line 2, column 11: loads[0].id is 417; write a short id such as probe-heat; put it in quotes if it looks like a number",
    ],
    [
      "a reference load without a rating",
      oneLoad("    reference: true"),
      "bus.yaml, line 2, column 5: loads[0] (probe).rated is missing; write { power_W: 250, at_V: 28 } or { current_A: 8.9 }, because a reference load needs a known current",
    ],
    [
      "text for a number",
      "battery: { capacity_Ah: forty }",
      "bus.yaml, line 1, column 25: battery.capacity_Ah is 'forty'; write a capacity in ampere-hours above 0",
    ],
    [
      "NaN",
      "path_resistance_mOhm: { value: .nan, u: 1 }",
      "bus.yaml, line 1, column 32: path_resistance_mOhm.value is NaN; write a resistance in milliohms, 0 or above",
    ],
    [
      "a day that no calendar has",
      "battery: { installed: 2026-02-30 }",
      "bus.yaml, line 1, column 23: battery.installed is '2026-02-30'; write a calendar date such as 2026-03-02",
    ],
    [
      "a resistance without uncertainty",
      "battery: { resistance_mOhm: 9.5 }",
      "bus.yaml, line 1, column 29: battery.resistance_mOhm is 9.5; write a value with its standard uncertainty in milliohms, such as { value: 9.5, u: 1.5 }",
    ],
    ["an empty file", "", "bus.yaml: the profile is empty; write at least 'loads:' and one line per load"],
    [
      "a list",
      "- probe",
      "bus.yaml, line 1, column 1: the profile is a list of 1; write the profile's keys, such as battery: and loads:",
    ],
    [
      "a key twice",
      "loads: []\nloads: []",
      "bus.yaml, line 2, column 1: the YAML cannot be read here (Map keys must be unique); check indentation, colons, brackets and quotes on this line and the one before",
    ],
    [
      "two documents",
      "loads: []\n---\nloads: []",
      "bus.yaml, line 2, column 1: the YAML cannot be read here (a second document begins, and a profile is one document); check indentation, colons, brackets and quotes on this line and the one before",
    ],
    [
      "a binary file",
      "\u0000\u0001\u0002",
      "bus.yaml: this is a binary file, not a profile; give the YAML file that describes the bus and its loads",
    ],
    [
      "ten million characters",
      "x".repeat(10_000_000),
      "bus.yaml: the profile is 10.0 million characters long, which no profile is; give the YAML file that describes the bus and its loads",
    ],
  ])("readProfile(%s) is refused in one sentence", (_, text, sentence) => {
    expect(sentenceFor(text)).toBe(sentence);
  });

  it("readProfile(anchors that multiply) is refused quickly", () => {
    const level = (name: string, of: string) => `${name}: &${name} [${Array(9).fill(of).join(",")}]\n`;
    const bomb = level("a", "x") + level("b", "*a") + level("c", "*b") + level("d", "*c") + level("e", "*d");
    const begin = performance.now();
    expect(sentenceFor(bomb)).toContain("write the values out instead of using & and *");
    expect(performance.now() - begin).toBeLessThan(1000);
  });

  it("readProfile(brackets nested without end) is refused in a sentence, not by a stack overflow", () => {
    expect(sentenceFor("[".repeat(20_000))).toContain("brackets are nested too deeply");
  });

  it("busdip-profile-1.schema.json is the schema that readProfile() checks against", () => {
    const path = new URL("../../../src/importers/profile/busdip-profile-1.schema.json", import.meta.url);
    expect(JSON.parse(readFileSync(path, "utf8"))).toEqual(profileJsonSchema());
  });
});
