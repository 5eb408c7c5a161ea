import { mkdirSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { randomSource } from "../../samples/simulator/random-source.js";
import { folderWith, runBusdip, samplesFolder } from "./run-busdip.js";

const random = randomSource(11);
const noise = Uint8Array.from({ length: 4000 }, () => Math.floor(random.uniform() * 256));
const rows = (cells: readonly string[]) => `time_s,voltage_V\n${cells.map((cell) => `${cell}\n`).join("")}`;

const files = {
  "empty.csv": "",
  "header.csv": rows([]),
  "no-voltage.csv": "time_s,pressure_hPa\n0,1013\n1,1012\n2,1013\n",
  "words.csv": rows(["0,high", "1,low", "2,high"]),
  "backwards.csv": rows(["0,24.1", "1,24.2", "2,24.1", "1.5,24.2", "0.5,24.1"]),
  "binary.csv": noise,
  "nan.csv": rows(["0,NaN", "1,NaN", "2,NaN"]),
  "one.csv": rows(["0,24.1"]),
  "good.csv": rows(Array.from({ length: 100 }, (_, index) => `${index / 10},${24 + (index % 3) / 100}`)),
  "unknown.marks.csv": "time_s,load,action\n2,pitot-heat,on\n4,pitot-heat,off\n",
  "typo.yaml": "loads:\n  - { id: probe, kind: heater, acept_A: [4, 7] }\n",
  "tabs.yaml": "loads:\n\t- id: probe\n",
};
const profile = join(samplesFolder, "ice-2.profile.yaml");

let folder: ReturnType<typeof folderWith>;
let before: string[];
beforeAll(() => {
  folder = folderWith(files);
  mkdirSync(join(folder.path, "folder.csv"));
  before = readdirSync(folder.path).sort();
});
afterAll(() => folder.remove());

/** Each case: the words of the command, and what the sentence must name: the thing at fault and the way out. */
const cases: [string, string[], RegExp[]][] = [
  ["a missing file", ["absent.csv"], [/absent\.csv/, /no such file/]],
  ["an empty file", ["empty.csv"], [/empty\.csv/, /empty/]],
  ["a header only", ["header.csv"], [/header\.csv/]],
  ["no voltage column", ["no-voltage.csv"], [/no-voltage\.csv/, /voltage/]],
  ["text in numbers", ["words.csv"], [/words\.csv/]],
  ["times backwards", ["backwards.csv"], [/backwards\.csv/, /line \d+/, /time/i]],
  ["a folder", ["folder.csv"], [/folder\.csv/, /folder/]],
  ["a binary file", ["binary.csv"], [/binary\.csv/]],
  ["NaN only", ["nan.csv"], [/nan\.csv/]],
  ["one reading", ["one.csv"], [/one\.csv/]],
  ["a missing second log", ["good.csv", "--current", "absent.csv"], [/absent\.csv/, /no such file/]],
  [
    "marks for an unknown load",
    ["good.csv", "--profile", profile, "--marks", "unknown.marks.csv"],
    [/unknown\.marks\.csv, line 2/, /'pitot-heat'/, /probe-heat-a/],
  ],
  ["missing marks", ["good.csv", "--marks", "absent.csv"], [/absent\.csv/, /no such file/]],
  ["a folder for marks", ["good.csv", "--marks", "folder.csv"], [/folder\.csv/, /folder/]],
  [
    "a mistyped key in the profile",
    ["good.csv", "--profile", "typo.yaml"],
    [/typo\.yaml, line 2, column 32/, /'acept_A'/, /did you mean 'accept_A'/],
  ],
  ["a profile that is no YAML", ["good.csv", "--profile", "tabs.yaml"], [/tabs\.yaml, line 2/, /[Tt]abs/]],
  ["a missing profile", ["good.csv", "--profile", "absent.yaml"], [/absent\.yaml/, /no such file/]],
  ["a binary profile", ["good.csv", "--profile", "binary.csv"], [/binary\.csv/]],
  ["a file as output folder", ["good.csv", "--out", "one.csv"], [/one\.csv/, /folder/]],
  ["an output folder below a file", ["good.csv", "--out", "one.csv/deep"], [/one\.csv/, /folder/]],
  ["a false-alarm rate above 1", ["good.csv", "--false-alarm-rate", "2"], [/--false-alarm-rate is '2'/, /0\.5/]],
  ["a power in words", ["good.csv", "--power", "high"], [/--power is 'high'/]],
  ["an unknown option", ["good.csv", "--jsn"], [/'--jsn'/, /--json/]],
  ["an impossible delimiter", ["good.csv", "--delimiter", "xx"], [/--delimiter is 'xx'/]],
  ["no recording", [], [/recording/]],
];

describe("busdip analyze", () => {
  it.each(cases)("analyze with %s says one sentence, exits with 2 and writes nothing", (_, words, names) => {
    const withOut = words.includes("--out") || words.length === 0 ? words : [...words, "--out", "out"];
    const outcome = runBusdip(["analyze", ...withOut], { cwd: folder.path });
    expect(outcome.stdout).toBe("");
    expect(outcome.stderr).toMatch(/^busdip: [^\n]+\n$/);
    expect(outcome.stderr).not.toMatch(/\bat .*:\d+:\d+|undefined|\[object|Error:/);
    for (const name of names) expect(outcome.stderr).toMatch(name);
    expect(outcome.status).toBe(2);
    expect(readdirSync(folder.path).sort()).toEqual(before);
  });
});

describe("busdip", () => {
  it("without a command says how to begin and exits with 2", () => {
    const { status, stderr } = runBusdip([]);
    expect(stderr).toBe("busdip: no command was given; see busdip --help, or begin with busdip demo\n");
    expect(status).toBe(2);
  });

  it("with an unknown command names the near one and exits with 2", () => {
    const { status, stderr } = runBusdip(["analyse", "x.csv"]);
    expect(stderr).toContain("analyze");
    expect(status).toBe(2);
  });
});
