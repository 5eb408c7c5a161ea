import { join } from "node:path";
import { type Command, Option } from "commander";
import { LOG_OPTION_FLAGS } from "../importers/csv/log-options.js";
import { InputError } from "../importers/input-error.js";
import type { Paper } from "../report/pdf-flow.js";
import { momentOfMaking } from "./analysis-job.js";
import { readTextFile } from "./input-file.js";
import { logOptionsFrom } from "./log-option-values.js";
import { numberAfter } from "./number-option.js";
import { checkOutputFolder, refuseOverwriting, writeIntoFolder } from "./output-folder.js";
import type { PlanWishes } from "./plan-conditions.js";
import { softwareVersion } from "./software-version.js";
import { STORE_FLAG, STORE_HELP } from "./store-option.js";
import { print, progressLine } from "./terminal.js";

interface PlanOptions extends PlanWishes {
  readonly out?: string;
  readonly paper?: Paper;
  readonly check?: string;
  readonly marks?: string;
  readonly json?: true;
}

/** `busdip plan`: what the meter will be able to show, and the run sheet of the whole bus. */
export function describeCommand(command: Command): void {
  command
    .argument("<profile>", "what is known about the bus and its loads (YAML)")
    .option("--recording <file>", "a recording with no load switched, for the noise of the readings")
    .option(
      "--reading-noise <volts>",
      "jitter of one reading (standard deviation); else a tenth of the meter's division",
      (text) => numberAfter("--reading-noise", text, 1e-6, 10),
    )
    .option(
      "--reading-interval <seconds>",
      "time from one reading to the next; 0.1 unless a recording tells it",
      (text) => numberAfter("--reading-interval", text, 1e-4, 60),
    )
    .option("--resistance <milliohms,u>", "source resistance and its standard uncertainty; wins over the profile's")
    .option(STORE_FLAG, `${STORE_HELP}; tells the resistance and the noise of this battery's earlier recordings`)
    .option("--false-alarm-rate <rate>", "chance per recording of a false response, 0.01 unless told", (text) =>
      numberAfter("--false-alarm-rate", text, 1e-6, 0.5),
    )
    .option("--power <power>", "wanted chance to find a load, 0.95 unless told", (text) =>
      numberAfter("--power", text, 0.5, 0.9999),
    )
    .option(
      "--mark-uncertainty <seconds>",
      "how well the beat is kept (standard uncertainty), 0.2 unless told",
      (text) => numberAfter("--mark-uncertainty", text, 0.01, 5),
    )
    .option("--temperature <celsius>", "temperature of the battery, for the endurance", (text) =>
      numberAfter("--temperature", text, -60, 80),
    )
    .option("--out <folder>", "write run-sheet.html, run-sheet.pdf, check.yaml and marks.csv into this folder")
    .addOption(new Option("--paper <size>", "paper of run-sheet.pdf, A4 unless told").choices(["A4", "Letter"]))
    .option("--check <file>", "write an empty run sheet to be ticked (YAML)")
    .option("--marks <file>", "write the planned switchings (CSV: time_s,load,action)")
    .option("--json", "print the plan as JSON and nothing else");
  for (const { flag, help } of LOG_OPTION_FLAGS) command.option(flag.replace(/ (.+)$/, " <$1>"), help);
  command.action(async (profilePath: string, options: PlanOptions) => {
    await runPlan(profilePath, options, logOptionsFrom(command.opts()));
  });
}

async function runPlan(
  profilePath: string,
  options: PlanOptions,
  logOptions: ReturnType<typeof logOptionsFrom>,
): Promise<void> {
  if (options.out !== undefined) await checkOutputFolder(options.out);
  const progress = progressLine();
  const { readProfile } = await import("../importers/profile/profile.js");
  const profile = readProfile(await readTextFile(profilePath, "the profile"), profilePath);
  if (profile.loads.length === 0) {
    throw new InputError({
      file: profilePath,
      problem: "the profile names no loads, so there is nothing to plan",
      remedy: "write one line per load under 'loads:'",
    });
  }
  progress.say("planning");
  const { planConditions, temperatureOf } = await import("./plan-conditions.js");
  const { enduranceOutlook, planCheck } = await import("../core/index.js");
  const plan = planCheck(profile, await planConditions(profile, options, logOptions));
  const outlook = enduranceOutlook(profile, temperatureOf(options));
  const { blankSheet } = await import("../importers/run-sheet/ticked-sheet.js");
  const { writeMarks } = await import("../importers/profile/marks.js");
  const files = new Map<string, string | Uint8Array>([
    ["check.yaml", blankSheet(profile)],
    ["marks.csv", writeMarks(plan.marks)],
  ]);
  const { renderRunSheetHtml } = await import("../report/plan/run-sheet-html.js");
  const { renderPlanTerminal } = await import("../report/plan/plan-terminal.js");
  const context = {
    title:
      [profile.aircraft, profile.bus === undefined ? undefined : `${profile.bus} bus`].filter(Boolean).join(", ") ||
      "Bus check",
    profileSource: profilePath.split(/[\\/]/).at(-1)!,
    softwareVersion: softwareVersion(),
    madeAt: momentOfMaking(),
  };
  if (options.check !== undefined) await writeOne(options.check, files.get("check.yaml")!, profilePath);
  if (options.marks !== undefined) await writeOne(options.marks, files.get("marks.csv")!, profilePath);
  if (options.out !== undefined) {
    const { readReportFonts } = await import("./report-fonts.js");
    const { renderRunSheetPdf } = await import("../report/plan/run-sheet-pdf.js");
    const paper = options.paper === undefined ? {} : { paper: options.paper };
    files.set("run-sheet.html", renderRunSheetHtml(plan, outlook, context));
    files.set(
      "run-sheet.pdf",
      await renderRunSheetPdf(plan, outlook, { ...context, ...paper, fonts: await readReportFonts() }),
    );
    refuseOverwriting(options.out, files.keys(), [
      profilePath,
      ...(options.recording === undefined ? [] : [options.recording]),
    ]);
    await writeIntoFolder(options.out, files);
  }
  progress.done();
  if (options.json === true) {
    print(JSON.stringify({ plan, endurance: outlook }, null, 2));
    return;
  }
  const { terminalStyle } = await import("./terminal-style.js");
  print(renderPlanTerminal(plan, outlook, terminalStyle(undefined)));
  if (options.out === undefined) print("For the run sheet on paper, run it again with --out and a folder.");
  else print(`Run sheet  ${join(options.out, "run-sheet.html")}`);
}

/** @throws InputError where the file cannot be written, or would replace the profile */
async function writeOne(path: string, content: string | Uint8Array, inputPath: string): Promise<void> {
  const { dirname, basename } = await import("node:path");
  refuseOverwriting(dirname(path), [basename(path)], [inputPath]);
  await writeIntoFolder(dirname(path), new Map([[basename(path), content]]));
}
