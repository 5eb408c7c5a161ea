import { analyze } from "../../src/core/index.js";
import { importLogs } from "../../src/importers/csv/csv-importer.js";
import { readMarks } from "../../src/importers/profile/marks.js";
import { readProfile } from "../../src/importers/profile/profile.js";
import { renderTerminalSummary, toResultJson } from "../../src/report/index.js";
import { resultSchema } from "../../src/report/result-schema.js";
import { dipRecording, recordingCsv } from "../simulation/dip-recording.js";
import type { FuzzTarget } from "./fuzz-target.js";
import { checkFinite, Find, refuseNaN } from "./oracle.js";

/** Parts the texts of one input. */
export const NEXT_PART = "\n=====\n";

const { recording } = dipRecording({
  ...{
    seed: 3,
    rateHz: 5,
    durationS: 24,
    levelV: 24.2,
    relaxationV: 0.05,
    relaxationTimeS: 40,
    sigmaV: 0.02,
    ar1: 0.3,
  },
  ...{ quantumV: 0.01, outlierShare: 0, outlierV: 0, gaps: [[14, 15]], lagS: 0.1 },
  loads: [
    {
      id: "probe",
      depthV: 0.15,
      switchings: [
        [4, 8],
        [12, 17],
      ],
    },
  ],
});
const log = recordingCsv(recording);
const profile = `battery: { id: B-1, chemistry: lead-acid, cells: 12, capacity_Ah: 44, resistance_mOhm: { value: 12, u: 2 } }
path_resistance_mOhm: { value: 3, u: 0.5 }
meter: { full_scale_V: 30, smallest_division_V: 1, zero_V: 0, lag_s: 0.25, friction_V: 0.02 }
required_endurance_min: 30
loads:
  - { id: probe, kind: heater, rated: { power_W: 160, at_V: 28 }, accept_A: [4.0, 7.5] }
  - { id: light, kind: resistive, rated: { current_A: 8, tolerance_pct: 5 }, reference: true, accept_A: [6, 9] }
`;
const marks = "time_s,load,action\n4,probe,on\n8,probe,off\n12,probe,on\n17,probe,off\n";
const withCurrent = log
  .split("\n")
  .map((line, i) => (i === 0 ? `${line},current_A` : line === "" ? "" : `${line},${i > 20 && i < 40 ? 8.1 : 0.1}`))
  .join("\n");

/** A whole judgement: log, profile and marks as texts, to the result and the words that people read. */
export const judgeTarget: FuzzTarget = {
  name: "judge",
  words: [
    "1e-300",
    "1e300",
    "24.2",
    "0",
    "probe",
    "light",
    "on",
    "off",
    "reference: true, ",
    "accept_A: [0, 0]",
    "\n12,24.1",
  ],
  seeds: () =>
    [
      [log, profile, marks],
      [log, profile, ""],
      [withCurrent, profile, marks],
      [log.slice(0, 600), profile, marks],
    ].map((parts) => new TextEncoder().encode(parts.join(NEXT_PART))),
  largestBytes: 12_000,
  longestS: 20,
  async run(input) {
    const [logText = "", profileText = "", marksText = ""] = new TextDecoder().decode(input).split(NEXT_PART);
    const bytes = new TextEncoder().encode(logText);
    const bus = profileText.trim() === "" ? null : readProfile(profileText, "bus.yaml");
    const given = marksText.trim() === "" ? [] : readMarks(marksText, "marks.csv", bus);
    const file = { name: "log.csv", size: bytes.length, open: () => [bytes] };
    const read = await importLogs([file], "voltage", {});
    // The command line refuses a single reading, and readings of one time, in a sentence of its own.
    const timesS = read.recording?.timesS ?? new Float64Array();
    if (read.recording === null || !(timesS[timesS.length - 1]! > timesS[0]!)) return "no reading";
    const analysis = analyze(read.recording, {
      marks: given,
      profile: bus,
      falseAlarmRate: 0.01,
      power: 0.95,
      seed: 1,
    });
    const context = {
      ...{ source: "log.csv", sha256: "7".repeat(64), profile: bus, understood: [] },
      ...{ softwareVersion: "0", madeAt: "2026-03-02T00:00:00.000Z" },
    };
    const result = toResultJson(analysis, context);
    checkFinite(result);
    const schema = resultSchema.safeParse(result);
    if (!schema.success) throw new Find(`the result breaks its own contract: ${schema.error.issues[0]?.message}`);
    refuseNaN(renderTerminalSummary(analysis, context, { columns: 80, colour: false, ascii: true }));
    const verdicts = analysis.loads.map(({ verdict }) => verdict).join();
    return `${verdicts} ${analysis.warnings.map(({ code }) => code).join()}`;
  },
};
