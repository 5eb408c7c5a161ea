#!/usr/bin/env node
import { Command, CommanderError } from "commander";
import { InputError } from "../importers/input-error.js";
import { EXIT_STATUS } from "./exit-status.js";
import { versionLine } from "./software-version.js";
import { complain, print, tolerateClosedPipes } from "./terminal.js";

/** A command: its line in the overview, and where its options and work stand. */
interface CommandEntry {
  readonly name: string;
  readonly summary: string;
  /** Loaded only for the command that was asked for, so that the others cost no time. */
  readonly load: () => Promise<{ describeCommand(command: Command): void }>;
}

const COMMANDS: readonly CommandEntry[] = [
  {
    name: "analyze",
    summary: "judge the voltage dips of a recording: did each load answer?",
    load: () => import("./analyze.js"),
  },
  {
    name: "demo",
    summary: "run the whole job on the simulated samples and say where the report lies",
    load: () => import("./demo.js"),
  },
  {
    name: "film",
    summary: "read the needle of a meter from a phone's film clip",
    load: () => import("./film.js"),
  },
  {
    name: "plan",
    summary: "say beforehand what the meter can show, and write the run sheet of the whole bus",
    load: () => import("./plan.js"),
  },
  {
    name: "report",
    summary: "write a record anew as HTML, PDF, text or pictures, after checking that it holds",
    load: () => import("./report.js"),
  },
  {
    name: "verify",
    summary: "compute a record again from what it carries: does every number still hold?",
    load: () => import("./verify.js"),
  },
  {
    name: "history",
    summary: "keep what each flight told of each battery",
    load: () => import("./history.js"),
  },
  {
    name: "trend",
    summary: "show how a battery, or the whole fleet, changes from flight to flight",
    load: () => import("./trend.js"),
  },
  {
    name: "page",
    summary: "serve the page for phone and desk, with the history behind it",
    load: () => import("./page.js"),
  },
];

const CAUTION = `Advisory, not an approved means to determine airworthiness: the approved manuals,
local rules and the licensed person's judgement come first.`;

async function run(words: readonly string[]): Promise<void> {
  const program = new Command("busdip")
    .description(
      "Did this load answer? Judges small battery-bus voltage dips, with stated error rates and uncertainty.",
    )
    .option("--version", "print version, commit and judging program")
    .helpOption("--help", "print this help")
    .helpCommand("help [command]", "print the help of a command")
    .addHelpText("after", `\n${CAUTION}\n`)
    .exitOverride()
    .configureOutput({ writeErr: () => {}, outputError: () => {} });

  if (words.length === 1 && words[0] === "--version") return print(versionLine());
  const asked = words.find((word) => !word.startsWith("-") && word !== "help");
  for (const entry of COMMANDS) {
    const command = program.command(entry.name).summary(entry.summary).description(entry.summary);
    command.helpOption("--help", "print this help").copyInheritedSettings(program);
    if (entry.name === asked) (await entry.load()).describeCommand(command);
  }

  if (words.length === 0) {
    throw new InputError({ problem: "no command was given", remedy: "see busdip --help, or begin with busdip demo" });
  }
  await program.parseAsync(words, { from: "user" });
}

/** The command whose help tells what was misunderstood, with a space behind it; empty for the whole program. */
function helpWords(error: CommanderError): string {
  const [command, below] = process.argv.slice(2);
  if (command === undefined || !COMMANDS.some(({ name }) => name === command)) return "";
  const nested = command === "history" && error.code !== "commander.unknownCommand" && /^[a-z]+$/.test(below ?? "");
  return nested ? `${command} ${below} ` : `${command} `;
}

/** Says what went wrong in one sentence and sets the exit status. */
function fail(error: unknown): void {
  if (error instanceof CommanderError) {
    if (error.exitCode === 0) return;
    complain(`${error.message.replace(/^error: /, "")}; see busdip ${helpWords(error)}--help`);
    process.exitCode = EXIT_STATUS.badInput;
  } else if (error instanceof InputError) {
    complain(error.message);
    process.exitCode = EXIT_STATUS.badInput;
  } else {
    const message = error instanceof Error ? error.message : String(error);
    complain(`this is the program's own fault (${message}); run it again with BUSDIP_DEBUG=1 to see where`);
    if (process.env.BUSDIP_DEBUG === "1" && error instanceof Error) process.stderr.write(`${error.stack}\n`);
    process.exitCode = EXIT_STATUS.ownFault;
  }
}

tolerateClosedPipes();
process.on("uncaughtException", (error) => {
  fail(error);
  process.exit();
});
await run(process.argv.slice(2)).catch(fail);
