import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { smallCheck } from "../cli/small-check.js";
import type { FuzzTarget } from "./fuzz-target.js";
import { NEXT_PART } from "./judge-target.js";
import { checkSentence, Find, refuseNaN } from "./oracle.js";

const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));
const sample = (name: string): string => readFileSync(new URL(`../../samples/${name}`, import.meta.url), "utf8");

const NAMES = ["log.csv", "bus.yaml", "marks.csv", "check.yaml", "columns.yaml", "history.json"];
const LINES = [
  "analyze log.csv --profile bus.yaml --marks marks.csv --json",
  "analyze log.csv --profile bus.yaml --marks marks.csv --check check.yaml --explain",
  "analyze log.csv --columns columns.yaml --explain --false-alarm-rate 0.05 --power 0.9",
  "analyze log.csv --current log.csv --current-offset 0.5 --profile bus.yaml",
  "plan bus.yaml --reading-noise 0.02",
  "plan bus.yaml --recording log.csv --json",
  "history import history.json --store h.db",
  "history list --store h.db",
  "trend --store h.db --json",
  "verify log.csv",
  "verify history.json --numbers",
  "report log.csv --format txt",
  "film log.csv --dial check.yaml",
];

const texts = [
  smallCheck["log.csv"],
  smallCheck["bus.yaml"],
  smallCheck["marks.csv"],
  "by: A\nitems:\n  - { item: probe, found: seen }\n",
  "delimiter: ','\nvoltageColumn: 2\n",
  `${sample("history/ice-2-history.json").slice(0, 300)}`,
];

/** The command line with words and files of a stranger: the exit status and the words for people. */
export const cliTarget: FuzzTarget = {
  name: "cli",
  words: [
    ...[
      "--json",
      "--explain",
      "--strict",
      "--out",
      "out",
      "--store",
      "--profile",
      "--marks",
      "--current",
      "--help",
      "--version",
    ],
    ...[
      "--power",
      "-1",
      "1e400",
      "NaN",
      "--cadence",
      "5,5",
      "--zone",
      "Mars/Base",
      "--",
      "-",
      "--seed",
      "--delimiter",
      "tab",
    ],
    ...[
      "--entry-template",
      "--columns",
      "--save-columns",
      "--sign",
      "--mark-uncertainty",
      "\u001b[2J",
      "log.csv",
      "bus.yaml",
    ],
  ],
  seeds: () => LINES.map((line) => new TextEncoder().encode([line, ...texts].join(NEXT_PART))),
  largestBytes: 20_000,
  longestS: 20,
  run(input) {
    const [line = "", ...files] = new TextDecoder().decode(input).split(NEXT_PART);
    const folder = mkdtempSync(join(tmpdir(), "busdip-fuzz-cli-"));
    try {
      const work = join(folder, "work");
      mkdirSync(work);
      NAMES.forEach((name, i) => {
        writeFileSync(join(work, name), files[i] ?? "");
      });
      const before = readdirSync(work).sort().join();
      const words = line.split(/\s+/).filter((word) => word !== "" && !word.includes("\0"));
      // The page serves until it is stopped, the demo takes half a minute, and nothing may leave the folder.
      if (words.some((word) => /^(page|demo)$|[/\\]|\.\./.test(word))) return "not run";
      const { status, signal, stdout, stderr } = spawnSync(process.execPath, [main, ...words], {
        cwd: work,
        encoding: "utf8",
        input: "",
        timeout: 60_000,
        maxBuffer: 1 << 28,
        env: { PATH: process.env.PATH ?? "", HOME: folder, NO_COLOR: "1", LANG: "C.UTF-8" },
      });
      if (status === null) throw new Find(`it ended by ${signal ?? "nothing"}`);
      if (![0, 1, 2].includes(status)) throw new Find(`it ended with ${status}: ${stderr.slice(0, 500)}`);
      refuseNaN(stdout);
      if (status !== 2) return `${words[0]} ${status}`;
      if (!/^busdip: [^\n]+\n$/.test(stderr)) throw new Find(`not one sentence on stderr: ${stderr.slice(0, 500)}`);
      if (stdout !== "") throw new Find(`a refusal with words on stdout: ${stdout.slice(0, 200)}`);
      const after = readdirSync(work).sort().join();
      if (after !== before && !after.includes("h.db")) throw new Find(`a refusal that wrote: ${after}`);
      return checkSentence(stderr.slice(8, -1));
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  },
};
