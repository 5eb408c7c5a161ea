import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import type { Command } from "commander";
import { type AnalysisRequest, judgeRecording } from "./analysis-job.js";
import { checkOutputFolder, writeIntoFolder } from "./output-folder.js";
import { print, progressLine } from "./terminal.js";

const SAMPLES_FOLDER = fileURLToPath(new URL("../../samples/", import.meta.url));

interface DemoSample {
  readonly name: string;
  readonly profile: string;
  readonly withMarks: boolean;
  readonly about: string;
}

const RAMP_CHECK: DemoSample = {
  name: "ice-2-ramp",
  profile: "ice-2.profile.yaml",
  withMarks: true,
  about: "the whole ramp check, switchings marked",
};

/** The samples in the order in which they are shown. */
const SAMPLES: readonly DemoSample[] = [
  RAMP_CHECK,
  {
    name: "ice-2-noisy",
    profile: "ice-2.profile.yaml",
    withMarks: true,
    about: "a meter that jitters more than the dips are deep",
  },
  {
    name: "ice-2-bench",
    profile: "ice-2-battery.profile.yaml",
    withMarks: false,
    about: "voltage and current together, no marks, no loads named",
  },
  {
    name: "ice-2-unmarked",
    profile: "ice-2-probe-a.profile.yaml",
    withMarks: false,
    about: "probe A alone, voltage only, nobody noted the switchings",
  },
];

/** `busdip demo`: the whole job on the simulated samples. */
export function describeCommand(command: Command): void {
  command
    .option("--out <folder>", "folder for the reports", join("reports", "demo"))
    .option("--json", "print the results as a JSON list and nothing else")
    .action(async (options: { out: string; json?: true }) => {
      await runDemo(options.out, options.json === true);
    });
}

async function runDemo(outputFolder: string, asJson: boolean): Promise<void> {
  await checkOutputFolder(outputFolder);
  const { reportFiles } = await import("./report-files.js");
  const { toResultJson } = await import("../report/index.js");
  const { summary } = await import("./summary.js");
  const progress = progressLine();
  const results: unknown[] = [];
  if (!asJson) print("Everything in this demo is simulated; ICE-2 is an invented aircraft.");

  for (const sample of SAMPLES) {
    const judged = await judgeRecording(requestFor(sample), progress);
    const folder = join(outputFolder, sample.name);
    progress.say(`writing the report of ${sample.name}`);
    await writeIntoFolder(folder, (await reportFiles(judged)).files);
    progress.done();
    if (asJson) results.push(toResultJson(judged.analysis, judged.context));
    else print(`\n== ${sample.name}: ${sample.about}\n\n${summary(judged, join(folder, "report.html"))}`);
  }

  if (asJson) {
    print(JSON.stringify(results, null, 2));
    return;
  }
  const { demoHistory } = await import("./demo-history.js");
  print(await demoHistory(outputFolder, SAMPLES_FOLDER));
  print(closing(outputFolder));
}

function requestFor(sample: DemoSample): AnalysisRequest {
  const path = (name: string) => relative(process.cwd(), join(SAMPLES_FOLDER, name));
  return {
    recordingPaths: [path(`${sample.name}.csv`)],
    profilePath: path(sample.profile),
    ...(sample.withMarks ? { marksPath: path(`${sample.name}.marks.csv`) } : {}),
    logOptions: {},
  };
}

function closing(outputFolder: string): string {
  return `\nThe reports lie in ${outputFolder}; begin with ${join(outputFolder, RAMP_CHECK.name, "report.html")} (opens in any browser, no network needed).`;
}
