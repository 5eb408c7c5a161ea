import { existsSync, readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { runBusdip } from "./cli/run-busdip.js";

const root = new URL("..", import.meta.url);
const readme = readFileSync(new URL("README.md", root), "utf8");

/** The commands that a help text lists. */
function listedIn(help: string): string[] {
  const list = help.split(/^Commands:$/m)[1] ?? "";
  return [...list.matchAll(/^ {2}([a-z]+)(?: \S+)* {2,}\S/gm)]
    .map((match) => match[1]!)
    .filter((name) => name !== "help");
}

const helpOf = (...words: string[]) => runBusdip([...words, "--help"]).stdout;
const overview = helpOf();
const commands = listedIn(overview);
/** The help of every command and of every command below one. */
const helps = new Map(
  commands.flatMap((command) => {
    const help = helpOf(command);
    const below = listedIn(help).map((name) => [`${command} ${name}`, helpOf(command, name)] as const);
    return [[command, help] as const, ...below];
  }),
);

describe("README.md", () => {
  it("names every command that busdip --help lists", () => {
    expect(commands.length).toBeGreaterThanOrEqual(2);
    for (const command of commands) expect(readme).toContain(`busdip ${command}`);
  });

  it.each([...helps.keys()])("every option of %s has a line in its --help", (command) => {
    const options = [...helps.get(command)!.matchAll(/^ {2}(--[a-z-]+)(?: <[^>]+>)? *(.*)$/gm)];
    expect(options.length).toBeGreaterThan(0);
    for (const [, option, text] of options) expect(text, `${command} ${option}`).not.toBe("");
  });

  it("names no option that no command has", () => {
    const all = [overview, ...helps.values()].join("\n");
    for (const [option] of readme.matchAll(/(?<![\w-])--[a-z][a-z-]+/g)) expect(all, option).toContain(option);
  });

  it("links only to files that exist", () => {
    for (const [, target] of readme.matchAll(/\]\((?!https?:|#)([^)]+)\)/g)) {
      expect(existsSync(new URL(target!, root)), target).toBe(true);
    }
  });

  it("every source file of a command is listed in the overview", () => {
    const files = readdirSync(new URL("src/cli", root));
    for (const command of commands) expect(files).toContain(`${command}.ts`);
  });

  it("the profile and the exit statuses stand in it", () => {
    for (const word of ["path_resistance_mOhm", "accept_A", "tolerance_pct", "| 0 |", "| 1 |", "| 2 |", "| 70 |"]) {
      expect(readme).toContain(word);
    }
  });
});
