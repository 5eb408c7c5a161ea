import { readReportFonts } from "../../src/cli/report-fonts.js";
import type { CheckMeans } from "../../src/cli/verify-line.js";
import type { Analysis, Recording } from "../../src/core/index.js";
import { analyze } from "../../src/core/index.js";
import { readMarks } from "../../src/importers/profile/marks.js";
import { readProfile } from "../../src/importers/profile/profile.js";
import { type RecordData, recordData } from "../../src/report/embedded-data.js";
import { renderHtmlRecord } from "../../src/report/html.js";
import { renderPdfRecord } from "../../src/report/pdf.js";
import { type GivenInputs, recordInputs } from "../../src/report/record-inputs.js";
import type { ReportContext } from "../../src/report/report-context.js";
import { smallCheck, smallRecording } from "./small-check.js";

export const plotlySource = "var Plotly = {};";
export const fonts = await readReportFonts();
export const profile = readProfile(smallCheck["bus.yaml"], "bus.yaml");
export const marks = readMarks(smallCheck["marks.csv"], "marks.csv", profile);
const options = { falseAlarmRate: 0.01, power: 0.95, markUncertaintyS: 0.2, seed: 1 };

export const given: GivenInputs = {
  profileText: smallCheck["bus.yaml"],
  marksText: smallCheck["marks.csv"],
  options,
  judgementSha256: "5".repeat(64),
};
export const context: ReportContext = {
  source: "log.csv",
  sha256: "7".repeat(64),
  profile,
  profileText: smallCheck["bus.yaml"],
  understood: ["columns parted by commas"],
  softwareVersion: "0.1.0",
  madeAt: "2026-03-02T00:00:00.000Z",
};
export const analysis = analyze(smallRecording, { marks, profile, ...options });

export const means: CheckMeans = {
  softwareVersion: "0.1.0",
  judgementSha256: "5".repeat(64),
  plotlySource: async () => plotlySource,
  fonts: async () => fonts,
};

/** A record whose parts may be at odds with each other although every seal and hash in it is right. */
export function record(
  changed: { readonly analysis?: Analysis; readonly recording?: Recording; readonly given?: GivenInputs } = {},
): RecordData {
  return recordData(
    changed.analysis ?? analysis,
    context,
    recordInputs(changed.recording ?? smallRecording, changed.given ?? given),
  );
}

export const html = (data: RecordData, shown: Analysis = analysis) =>
  renderHtmlRecord(shown, { ...context, plotlySource, record: data });
export const pdf = (data: RecordData, shown: Analysis = analysis) =>
  renderPdfRecord(shown, { ...context, fonts, record: data });

/** The analysis with the depth of its only load a hundredth deeper. */
export const deeper: Analysis = {
  ...analysis,
  loads: analysis.loads.map((load) => ({
    ...load,
    depth: load.depth === null ? null : { ...load.depth, value: load.depth.value * 1.01 },
  })),
};
