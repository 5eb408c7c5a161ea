import { readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { folderWith, runBusdip } from "./run-busdip.js";
import { smallCheck, smallRecording } from "./small-check.js";

const rows = (name: string, row: (i: number) => string): string =>
  `${name}\n${[...smallRecording.timesS].map((_, i) => row(i)).join("\n")}\n`;
const { timesS, voltagesV } = smallRecording;
/** Two voltages, of which only the person knows the right one. */
const TWO = rows("when;left_V;right_V", (i) => `${timesS[i]};12.0;${voltagesV[i]}`);
const AMPERES = rows("n,b,current_A", (i) => `${i},${timesS[i]},${timesS[i]! >= 10 && timesS[i]! < 15 ? 10 : 0}`);

describe("busdip analyze --columns", () => {
  let folder: ReturnType<typeof folderWith>;
  beforeAll(() => {
    folder = folderWith({ ...smallCheck, "two.csv": TWO, "clamp.csv": AMPERES, "clamp.yaml": "timeColumn: b\n" });
  });
  afterAll(() => folder.remove());
  const run = (...words: string[]) => runBusdip(["analyze", ...words], { cwd: folder.path });

  it("reads a log by the description that --save-columns wrote", () => {
    expect(run("two.csv").status).toBe(2);
    const told = run("two.csv", "--voltage-column", "right_V", "--save-columns", "bus.yaml");
    expect(told.stderr).toBe("");
    expect(told.stdout).toContain("How the log was read stands in bus.yaml; give it with --columns the next time.");
    expect(readFileSync(join(folder.path, "bus.yaml"), "utf8")).toContain("voltageColumn: right_V");
    const again = run("two.csv", "--columns", "bus.yaml");
    expect(again.stderr).toBe("");
    expect(again.stdout).toContain("Voltage from column 3 'right_V' in V");
  });

  it("lets an option overrule the description", () => {
    run("two.csv", "--voltage-column", "right_V", "--save-columns", "bus.yaml");
    const { stdout } = run("two.csv", "--columns", "bus.yaml", "--voltage-column", "left_V");
    expect(stdout).toContain("Voltage from column 2 'left_V' in V");
  });

  it("reads the current log by a description of its own", () => {
    const words = ["log.csv", "--current", "clamp.csv", "--current-offset", "0", "--current-columns", "clamp.yaml"];
    const { stdout, stderr } = run(...words, "--save-current-columns", "clamp-2.yaml");
    expect(stderr).toBe("");
    expect(stdout.replace(/\s+/g, " ")).toContain(
      "clamp.csv: Current from column 3 'current_A' in A; time from column 2 'b'",
    );
    expect(readFileSync(join(folder.path, "clamp-2.yaml"), "utf8")).toContain("currentColumn: current_A");
  });

  it.each([
    [
      ["log.csv", "--columns", "none.yaml"],
      "none.yaml: there is no such file; check the path of the description of a log",
    ],
    [["log.csv", "--columns", "log.csv"], "log.csv"],
    [
      ["log.csv", "--save-columns", "log.csv"],
      "log.csv: the description would be written over this input; give another file after --save-columns",
    ],
    [
      ["log.csv", "--current-columns", "clamp.yaml"],
      "--current-columns stands without --current; give the current log, or leave it out",
    ],
  ])("refuses %j with one sentence", (words, sentence) => {
    const { status, stderr, stdout } = run(...words);
    expect(status).toBe(2);
    expect(stdout).toBe("");
    expect(stderr.trim().split("\n")).toHaveLength(1);
    expect(stderr).toContain(sentence);
  });
});
