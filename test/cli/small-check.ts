import { writeMarks } from "../../src/importers/profile/marks.js";
import { dipRecording, recordingCsv } from "../simulation/dip-recording.js";

const { recording, marks } = dipRecording({
  seed: 41,
  rateHz: 10,
  durationS: 40,
  levelV: 24.2,
  relaxationV: 0.1,
  relaxationTimeS: 60,
  sigmaV: 0.01,
  ar1: 0,
  quantumV: 0.001,
  outlierShare: 0,
  outlierV: 0,
  gaps: [],
  loads: [
    {
      id: "probe",
      depthV: 0.12,
      switchings: [
        [10, 15],
        [20, 25],
      ],
    },
  ],
  lagS: 0.1,
});

/** A short check of one load that answers clearly, for tests that are not about the judgement. */
export const smallCheck = {
  "log.csv": recordingCsv(recording),
  "marks.csv": writeMarks(marks),
  "bus.yaml": `battery: { resistance_mOhm: { value: 12, u: 0.5 } }
path_resistance_mOhm: { value: 0, u: 0 }
loads:
  - { id: probe, name: Heated probe, kind: resistive, accept_A: [6, 14] }
`,
};

export const smallRecording = recording;

export const smallWords = ["analyze", "log.csv", "--profile", "bus.yaml", "--marks", "marks.csv"];
