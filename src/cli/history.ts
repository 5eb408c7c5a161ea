import { writeFile } from "node:fs/promises";
import { join, resolve } from "node:path";
import type { Command } from "commander";
import { CHEMISTRIES } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import { dayAfter, momentAfter, withHistory } from "./history-store.js";
import { readTextFile } from "./input-file.js";
import { batteryTemperatureAfter, numberAfter } from "./number-option.js";
import { STORE_FLAG, STORE_HELP } from "./store-option.js";
import { print } from "./terminal.js";

interface StoreOption {
  readonly store?: string;
}

/** `busdip history`: keeps what each flight told of each battery. */
export function describeCommand(command: Command): void {
  describeAdd(command.command("add"));
  describeList(command.command("list"));
  describeShow(command.command("show"));
  describeRemove(command.command("remove"));
  describeExport(command.command("export"));
  describeImport(command.command("import"));
  describeInstall(command.command("install"));
  describeRetire(command.command("retire"));
  for (const sub of command.commands) sub.option(STORE_FLAG, STORE_HELP).helpOption("--help", "print this help");
}

interface AddOptions extends StoreOption {
  readonly date?: string;
  readonly battery?: string;
  readonly aircraft?: string;
  readonly bus?: string;
  readonly temperature?: number;
  readonly charge?: number;
  readonly remark?: string;
  readonly profile?: string;
}

function describeAdd(command: Command): void {
  command
    .argument("<result...>", "result.json of analysed recordings, or the folders they lie in")
    .summary("add results to the history")
    .description("Adds results to the history; one that is there already changes nothing.")
    .option("--date <date>", "when the recording was made: 2026-03-02 or 2026-03-02T10:30:00Z")
    .option(
      "--battery <number>",
      "the battery; else the one of the profile, else the one installed in the aircraft then",
    )
    .option("--aircraft <label>", "the aircraft; else the one of the profile")
    .option("--bus <label>", "the bus; else the one of the profile")
    .option("--temperature <celsius>", "temperature of the battery", batteryTemperatureAfter)
    .option("--charge <share>", "state of charge, 0 to 1", (text) => numberAfter("--charge", text, 0, 1))
    .option("--remark <text>", "a remark kept with the recording")
    .option("--profile <file>", "profile that names battery, aircraft and bus (YAML)")
    .action(runAdd);
}

async function runAdd(paths: readonly string[], options: AddOptions): Promise<void> {
  const atS = momentAfter("--date", options.date);
  const { addAnalysisToStore, originFromProfile } = await import("./history-entry.js");
  const { readResultJson } = await import("../report/index.js");
  const profile = await profileOf(options.profile);
  for (const path of paths) {
    const file = path.endsWith(".json") ? path : join(path, "result.json");
    const reading = readResultJson(await readTextFile(file, "the result"));
    if (!reading.ok) throw new InputError({ file, problem: reading.problem, remedy: reading.remedy });
    const origin = {
      ...originFromProfile(profile),
      atS,
      report: resolve(file, "..", "report.html"),
      ...(options.battery === undefined ? {} : { battery: options.battery }),
      ...(options.aircraft === undefined ? {} : { aircraft: options.aircraft }),
      ...(options.bus === undefined ? {} : { bus: options.bus }),
      ...(options.temperature === undefined ? {} : { temperatureC: options.temperature }),
      ...(options.charge === undefined ? {} : { stateOfCharge: options.charge }),
      ...(options.remark === undefined ? {} : { remark: options.remark }),
    };
    const { outcome, battery, place } = addAnalysisToStore(reading.result, origin, options.store);
    print(
      outcome === "added"
        ? `${file}: added to battery ${battery} in ${place}`
        : `${file}: was there already, nothing changed; to put it in its place, remove that one first`,
    );
  }
}

async function profileOf(path: string | undefined) {
  if (path === undefined) return null;
  const text = await readTextFile(path, "the profile");
  const { readProfile } = await import("../importers/profile/profile.js");
  return readProfile(text, path);
}

function describeList(command: Command): void {
  command
    .argument("[battery]", "only the recordings of this battery")
    .summary("list batteries, or the recordings of one")
    .description("Lists the batteries of the history, or the recordings of one battery.")
    .option("--json", "print as JSON and nothing else")
    .action(async (battery: string | undefined, options: StoreOption & { json?: true }) => {
      const { batteryTable, recordingTable } = await import("./history-tables.js");
      withHistory(options.store, false, (history) => {
        const batteries = history.batteries();
        if (battery === undefined) {
          print(
            options.json
              ? JSON.stringify(batteries, null, 2)
              : batteryTable(batteries, history.installations(), history.place),
          );
          return;
        }
        requireBattery(
          battery,
          batteries.map((line) => line.id),
          history.place,
        );
        const recordings = history.recordings(battery);
        print(options.json ? JSON.stringify(recordings, null, 2) : recordingTable(recordings));
      });
    });
}

function describeShow(command: Command): void {
  command
    .argument("<recording>", "the first signs of a recording's hash, as history list shows it")
    .summary("show all that is kept of a recording")
    .description("Shows all that is kept of one recording.")
    .option("--json", "print as JSON and nothing else")
    .action(async (hash: string, options: StoreOption & { json?: true }) => {
      const { recordingDetails } = await import("./history-tables.js");
      withHistory(options.store, false, (history) => {
        const entry = oneRecording(history.recordingsBy(hash), hash);
        print(options.json ? JSON.stringify(entry, null, 2) : recordingDetails(entry));
      });
    });
}

function describeRemove(command: Command): void {
  command
    .argument("<recording...>", "the first signs of the recordings' hashes, as history list shows them")
    .summary("remove recordings")
    .description("Removes recordings with all that is kept of them.")
    .action((hashes: readonly string[], options: StoreOption) => {
      withHistory(options.store, false, (history) => {
        const found = hashes.map((hash) => oneRecording(history.recordingsBy(hash), hash).hash);
        print(`${history.remove(found)} removed from ${history.place}`);
      });
    });
}

function describeExport(command: Command): void {
  command
    .argument("[file]", "file to write, .json or .csv; else the text is printed")
    .summary("write the whole history as JSON or CSV")
    .description("Writes the whole history as JSON, or one line per recording as CSV.")
    .option("--csv", "CSV even where the file's name does not say so")
    .action(async (file: string | undefined, options: StoreOption & { csv?: true }) => {
      const { writeHistoryCsv, writeHistoryJson } = await import("../history/index.js");
      const asCsv = options.csv === true || file?.toLowerCase().endsWith(".csv") === true;
      const { text, count, place } = withHistory(options.store, false, (history) => {
        const content = history.content();
        const written = asCsv ? writeHistoryCsv(content) : writeHistoryJson(content);
        return { text: written, count: content.recordings.length, place: history.place };
      });
      if (file === undefined) return print(text);
      await writeFile(file, text).catch((error: NodeJS.ErrnoException) => {
        throw new InputError({
          file,
          problem: `cannot be written (${error.code ?? error.message})`,
          remedy: "give another file",
        });
      });
      print(`${count} recordings of ${place} written to ${file}`);
    });
}

function describeImport(command: Command): void {
  command
    .argument("<file...>", "files that history export wrote, or a table of one's own (.csv)")
    .summary("add exported recordings")
    .description("Adds exported recordings; those that are there already change nothing.")
    .action(async (files: readonly string[], options: StoreOption) => {
      const { importHistoryFile } = await import("./history-import.js");
      for (const file of files) {
        const { added, there, place, twins } = await importHistoryFile(file, options.store);
        print(`${file}: ${added} added, ${there} there already, in ${place}`);
        if (twins !== null) print(twins);
      }
    });
}

interface InstallOptions extends StoreOption {
  readonly aircraft?: string;
  readonly bus: string;
  readonly on?: string;
  readonly newLife?: true;
  readonly chemistry?: string;
  readonly cells?: number;
  readonly capacity?: number;
}

function describeInstall(command: Command): void {
  command
    .argument("<battery>", "number of the battery")
    .summary("note that a battery was installed")
    .description(
      "Notes that a battery was installed in an aircraft; the one before it ends its service there that day.",
    )
    .option("--aircraft <label>", "the aircraft")
    .option("--bus <label>", "the bus", "")
    .option("--on <date>", "the day: 2026-03-02")
    .option("--new-life", "it was renewed under its old number: its trend starts anew")
    .option("--chemistry <name>", `its chemistry: ${CHEMISTRIES.join(", ")}`)
    .option("--cells <count>", "its number of cells", (text) => numberAfter("--cells", text, 1, 500))
    .option("--capacity <ampere-hours>", "its rated capacity", (text) => numberAfter("--capacity", text, 0.1, 10_000))
    .action((battery: string, options: InstallOptions) => {
      const installedOn = dayAfter("--on", options.on);
      const { aircraft } = options;
      if (aircraft === undefined) {
        throw new InputError({ problem: "the aircraft is not told", remedy: "give it after --aircraft" });
      }
      if (options.chemistry !== undefined && !CHEMISTRIES.some((one) => one === options.chemistry)) {
        throw new InputError({
          problem: `--chemistry is '${options.chemistry}'`,
          remedy: `write ${CHEMISTRIES.join(", ")}`,
        });
      }
      withHistory(options.store, true, (history) => {
        const replaced = history.install(
          { battery, aircraft, bus: options.bus, installedOn, newLife: options.newLife === true },
          {
            ...(options.chemistry === undefined ? {} : { chemistry: options.chemistry }),
            ...(options.cells === undefined ? {} : { cells: options.cells }),
            ...(options.capacity === undefined ? {} : { capacityAh: options.capacity }),
          },
        );
        const instead = replaced === null ? "" : ` instead of ${replaced}`;
        print(`battery ${battery} installed in ${aircraft} on ${installedOn}${instead}`);
      });
    });
}

function describeRetire(command: Command): void {
  command
    .argument("<battery>", "number of the battery")
    .summary("note that a battery was taken out of service")
    .description("Notes that a battery was taken out of service.")
    .option("--on <date>", "the day: 2026-03-02")
    .option("--because <reason>", "why")
    .action((battery: string, options: StoreOption & { on?: string; because?: string }) => {
      const retiredOn = dayAfter("--on", options.on);
      withHistory(options.store, false, (history) => {
        history.retire(battery, retiredOn, options.because ?? null);
        print(`battery ${battery} retired on ${retiredOn}`);
      });
    });
}

/** @throws InputError unless exactly one recording was found */
function oneRecording<T extends { readonly hash: string }>(found: readonly T[], hash: string): T {
  if (found.length === 1) return found[0];
  throw new InputError({
    problem: found.length === 0 ? `no recording begins with ${hash}` : `several recordings begin with ${hash}`,
    remedy: found.length === 0 ? "see busdip history list BATTERY" : "write more signs of it",
  });
}

/** @throws InputError for a battery that is not among the known ones */
export function requireBattery(battery: string, known: readonly string[], place: string): void {
  if (known.includes(battery)) return;
  const some = `${known.slice(0, 12).join(", ")}${known.length > 12 ? " ..." : ""}`;
  throw new InputError({
    file: place,
    problem: `there is no battery ${battery}`,
    remedy: known.length === 0 ? "the history is empty" : `it holds ${some}`,
  });
}
