import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import type { Recording } from "../core/index.js";
import type { JudgedRecording } from "./analysis-job.js";

/** Above this the readings are not copied beside the report; the person has them already. */
const LARGEST_COPY_BYTES = 5_000_000;

/** The files that make up one report, by name. */
export interface ReportFiles {
  readonly files: ReadonlyMap<string, string | Uint8Array>;
  /** Whether the readings were too many to be copied. */
  readonly readingsLeftOut: boolean;
}

/** Everything that `--out` writes: the report, the result, and the readings as they were used. */
export async function reportFiles(judged: JudgedRecording): Promise<ReportFiles> {
  const { renderHtmlReport, toResultJson } = await import("../report/index.js");
  const { analysis, context, recording } = judged;
  const plotlySource = await readPlotlySource();
  const files = new Map<string, string | Uint8Array>([
    ["report.html", renderHtmlReport(analysis, { ...context, plotlySource })],
    ["result.json", `${JSON.stringify(toResultJson(analysis, context), null, 2)}\n`],
  ]);
  // A row is 20 to 60 bytes long; the text is made only where it can stay below the limit.
  const readingsText = recording.timesS.length * 12 > LARGEST_COPY_BYTES ? null : readingsCsv(recording);
  const copied = readingsText !== null && readingsText.length <= LARGEST_COPY_BYTES;
  if (copied) files.set("recording.csv", readingsText);
  return { files, readingsLeftOut: !copied };
}

/** The readings as they were used, in the canonical form; a current on its own time axis gets rows of its own. */
function readingsCsv(recording: Recording): string {
  const { timesS, voltagesV, current } = recording;
  if (current === undefined) {
    const lines = ["time_s,voltage_V"];
    timesS.forEach((timeS, index) => {
      lines.push(`${timeS},${voltagesV[index]}`);
    });
    return `${lines.join("\n")}\n`;
  }
  const lines = ["time_s,voltage_V,current_A"];
  let volt = 0;
  let ampere = 0;
  while (volt < timesS.length || ampere < current.timesS.length) {
    const voltS = timesS[volt] ?? Number.POSITIVE_INFINITY;
    const ampereS = current.timesS[ampere] ?? Number.POSITIVE_INFINITY;
    const timeS = Math.min(voltS, ampereS);
    const voltCell = voltS === timeS ? voltagesV[volt++] : "";
    const ampereCell = ampereS === timeS ? current.currentsA[ampere++] : "";
    lines.push(`${timeS},${voltCell},${ampereCell}`);
  }
  return `${lines.join("\n")}\n`;
}

/** The plotting library as text, to be set into the report so that it opens without a network. */
export async function readPlotlySource(): Promise<string> {
  return await readFile(createRequire(import.meta.url).resolve("plotly.js-dist-min/plotly.min.js"), "utf8");
}
