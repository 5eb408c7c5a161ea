import { existsSync } from "node:fs";
import { isAbsolute, join, relative, resolve } from "node:path";
import type { Command } from "commander";
import type { FlightReading } from "../core/index.js";
import { type History, type RecordingTwins, writeHistoryJson } from "../history/index.js";
import type { BatteryStory, TrendContext } from "../report/index.js";
import { LARGEST_CARRIED_HISTORY_BYTES, type TrendInputs } from "../report/trend-record.js";
import { momentOfMaking } from "./analysis-job.js";
import { EXIT_STATUS } from "./exit-status.js";
import { withHistory } from "./history-store.js";
import { numberAfter } from "./number-option.js";
import { checkOutputFolder, writeIntoFolder } from "./output-folder.js";
import { describeRecordOptions, type RecordWritingOptions, recordWriting } from "./record-options.js";
import type { RecordWriting } from "./report-files.js";
import { judgementSha256, softwareVersion } from "./software-version.js";
import { STORE_FLAG, STORE_HELP } from "./store-option.js";
import { print, progressLine } from "./terminal.js";
import type { TrendWishes } from "./trend-stories.js";

/** How the record of a trend is to be written. */
type TrendWriting = Pick<RecordWriting, "paper" | "signingKey">;

interface TrendOptions extends Omit<RecordWritingOptions, "entryTemplate"> {
  readonly store?: string;
  readonly out?: string;
  readonly json?: true;
  readonly strict?: true;
  readonly limitPercent?: number;
  readonly limitMohm?: number;
  readonly requiredEndurance?: number;
  readonly baseline?: number;
  readonly asMeasured?: true;
}

/** `busdip trend`: how a battery, or the whole fleet, changes from flight to flight. */
export function describeCommand(command: Command): void {
  command
    .argument("[battery]", "number of the battery; without it all batteries, most concern first")
    .option(STORE_FLAG, STORE_HELP)
    .option("--out <folder>", "write trend.html, trend.pdf and trend.json with the control charts into this folder")
    .option("--json", "print the trend as JSON and nothing else")
    .option("--strict", "exit with 1 if an alarm stands")
    .option("--limit-percent <percent>", "limit of the resistance, above the baseline; 20 unless told", (text) =>
      numberAfter("--limit-percent", text, 1, 1000),
    )
    .option("--limit-mohm <milliohms>", "limit of the resistance itself; wins over --limit-percent", (text) =>
      numberAfter("--limit-mohm", text, 0.001, 1e6),
    )
    .option("--required-endurance <minutes>", "limit of the endurance", (text) =>
      numberAfter("--required-endurance", text, 0.1, 1e5),
    )
    .option("--baseline <flights>", "flights that set the baseline; 20 unless told", (text) =>
      Math.round(numberAfter("--baseline", text, 10, 100)),
    )
    .option("--as-measured", "leave resistances as they were measured, whatever the temperature and the charge");
  describeRecordOptions(command, "trend.pdf");
  command.action(runTrend);
}

async function runTrend(battery: string | undefined, options: TrendOptions): Promise<void> {
  if (options.out !== undefined) await checkOutputFolder(options.out);
  const writing = await recordWriting(options);
  const progress = progressLine();
  progress.say("reading the history");
  const judged = await judgeTrends(battery, options);
  progress.done();

  const reportPath = options.out === undefined ? undefined : await writeReport(judged, options.out, writing);
  if (options.strict === true && judged.stories.some(alarmStands)) process.exitCode = EXIT_STATUS.finding;
  const report = await import("../report/index.js");
  if (options.json === true) {
    print(JSON.stringify(report.trendJson(judged.stories, judged.context), null, 2));
    return;
  }
  const { terminalStyle } = await import("./terminal-style.js");
  const style = terminalStyle(reportPath);
  print(
    battery === undefined
      ? report.renderFleetTrend(judged.stories, judged.context, style)
      : report.renderBatteryTrend(judged.stories[0], judged.context, style),
  );
  const { twinsText } = await import("./history-tables.js");
  const twins = twinsText(judged.twins);
  if (twins !== null) print(twins);
}

/** Trends as they were judged, with what a report needs. */
export interface JudgedTrends {
  readonly battery: string | undefined;
  readonly stories: readonly BatteryStory[];
  readonly context: TrendContext;
  /** Recordings of the one battery asked for that may be one flight kept twice. */
  readonly twins: readonly RecordingTwins[];
  /** What a record of the trend carries; null where none was asked for or the history is too large. */
  readonly inputs: TrendInputs | null;
}

/** Judges one battery, or all of them. @throws InputError for a battery that the history does not hold */
export async function judgeTrends(battery: string | undefined, options: TrendOptions): Promise<JudgedTrends> {
  const { batteryStory, fleetStories, scatterOfFleet } = await import("./trend-stories.js");
  const { requireBattery } = await import("./history.js");
  const now = momentOfMaking();
  const nowS = Date.parse(now) / 1000;
  const wishes = wishesOf(options);
  return withHistory(options.store, false, (history) => {
    if (battery !== undefined)
      requireBattery(
        battery,
        history.batteries().map((line) => line.id),
        history.place,
      );
    const story = battery === undefined ? null : batteryStory(history, battery, wishes, nowS);
    const stories = story === null ? fleetStories(history, wishes, nowS) : [story];
    const context: TrendContext = {
      store: history.place,
      madeAt: now,
      softwareVersion: softwareVersion(),
      fleetKnown: scatterOfFleet(history, wishes) !== null,
      reportHref: (reading) => reportHref(reading, options.out),
    };
    const inputs = options.out === undefined ? null : trendInputs(history, battery, wishes, { stories, context });
    return { battery, stories, context, twins: battery === undefined ? [] : history.twins(battery), inputs };
  });
}

/** Writes the trend report into a folder, as a page and on paper; the path of its page. */
export async function writeReport(judged: JudgedTrends, folder: string, writing: TrendWriting = {}): Promise<string> {
  const { addSignatures, readPlotlySource } = await import("./report-files.js");
  const { readReportFonts } = await import("./report-fonts.js");
  const { renderFleetReport, renderTrendReport, sealedTrend, trendJson } = await import("../report/index.js");
  const { renderFleetPdf, renderTrendPdf } = await import("../report/trend-pdf.js");
  const { inputs, stories, battery } = judged;
  const context = {
    ...judged.context,
    plotlySource: await readPlotlySource(),
    ...(inputs === null ? {} : { inputs }),
  };
  const { paper, signingKey } = writing;
  const onPaper = {
    ...judged.context,
    fonts: await readReportFonts(),
    inputs,
    ...(paper === undefined ? {} : { paper }),
  };
  const html = battery === undefined ? renderFleetReport(stories, context) : renderTrendReport(stories[0]!, context);
  const files = new Map<string, string | Uint8Array>([
    ["trend.html", inputs === null ? html : sealedTrend(html)],
    [
      "trend.pdf",
      await (battery === undefined ? renderFleetPdf(stories, onPaper) : renderTrendPdf(stories[0]!, onPaper)),
    ],
    ["trend.json", `${JSON.stringify(trendJson(stories, judged.context), null, 2)}\n`],
  ]);
  if (signingKey !== undefined) await addSignatures(files, signingKey);
  await writeIntoFolder(folder, files);
  return join(folder, "trend.html");
}

/** Everything that fixes the trend: the history without what no trend looks at, and what the person set. */
function trendInputs(
  history: History,
  battery: string | undefined,
  wishes: TrendWishes,
  { stories, context }: Pick<JudgedTrends, "stories" | "context">,
): TrendInputs | null {
  const all = history.content();
  const historyText = writeHistoryJson({
    ...all,
    recordings: all.recordings.map((one) => ({ ...one, dips: [], answers: [], notes: [], report: null })),
  });
  if (historyText.length > LARGEST_CARRIED_HISTORY_BYTES) return null;
  const points = stories.flatMap((story) => story.series.flatMap((series) => [...series.points]));
  const links = points.flatMap((point) => {
    const href = context.reportHref(point);
    return href === null ? [] : [[point.hash, href] as const];
  });
  return {
    battery: battery ?? null,
    wishes: { ...wishes },
    links: Object.fromEntries(links),
    judgementSha256: judgementSha256(),
    historyText,
  };
}

function wishesOf(options: TrendOptions): TrendWishes {
  const resistanceLimit =
    options.limitMohm !== undefined
      ? { value: 1e-3 * options.limitMohm }
      : options.limitPercent !== undefined
        ? { worseBy: options.limitPercent / 100 }
        : undefined;
  return {
    ...(resistanceLimit === undefined ? {} : { resistanceLimit }),
    ...(options.requiredEndurance === undefined ? {} : { enduranceLimit: { value: options.requiredEndurance } }),
    ...(options.asMeasured === undefined ? {} : { asMeasured: true }),
    ...(options.baseline === undefined ? {} : { baselineFlights: options.baseline }),
  };
}

function alarmStands(story: BatteryStory): boolean {
  return story.retiredOn === null && story.concern.class >= 4;
}

/** A report on this machine as seen from the folder of the page, or its address; nothing that a browser would run. */
function reportHref(reading: FlightReading, folder: string | undefined): string | null {
  const { report } = reading;
  if (report === null) return null;
  if (/^https?:\/\//i.test(report)) return report;
  if (/^[a-z][a-z0-9+.-]*:/i.test(report) && !/^[a-z]:[\\/]/i.test(report)) return null;
  if (folder === undefined || !isAbsolute(report) || !existsSync(report)) return null;
  return relative(resolve(folder), report).split(/[\\/]/).map(encodeURIComponent).join("/");
}
