import { existsSync, readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { runBusdip } from "./cli/run-busdip.js";

const root = new URL("..", import.meta.url);
const readme = readFileSync(new URL("README.md", root), "utf8");

/** The commands that the overview lists. */
const commands = [...runBusdip(["--help"]).stdout.matchAll(/^ {2}([a-z]+) {2,}\S/gm)]
  .map((match) => match[1]!)
  .filter((name) => name !== "help");

describe("README.md", () => {
  it("names every command that busdip --help lists", () => {
    expect(commands.length).toBeGreaterThanOrEqual(2);
    for (const command of commands) expect(readme).toContain(`busdip ${command}`);
  });

  it.each(commands)("every option of %s has a line in its --help, and every option README names exists", (command) => {
    const help = runBusdip([command, "--help"]).stdout;
    for (const [, option, text] of help.matchAll(/^ {2}(--[a-z-]+)(?: <[^>]+>)? *(.*)$/gm)) {
      expect(text, `${command} ${option}`).not.toBe("");
    }
  });

  it("names no option that no command has", () => {
    const helps = commands.map((command) => runBusdip([command, "--help"]).stdout).join("\n");
    const overview = runBusdip(["--help"]).stdout;
    for (const [option] of readme.matchAll(/(?<![\w-])--[a-z][a-z-]+/g)) {
      expect(`${overview}\n${helps}`, option).toContain(option);
    }
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
