import { spawn } from "node:child_process";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { Ajv2020 } from "ajv/dist/2020.js";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { folderWith, runBusdip, samplesFolder } from "./run-busdip.js";
import { smallCheck, smallRecording, smallWords } from "./small-check.js";

const sample = (name: string) => join(samplesFolder, name);
const sampleCheck = (name: string) => [
  "analyze",
  sample(`${name}.csv`),
  "--profile",
  sample("ice-2.profile.yaml"),
  "--marks",
  sample(`${name}.marks.csv`),
];

const before = Object.keys(smallCheck).sort();
let folder: ReturnType<typeof folderWith>;
beforeAll(() => {
  folder = folderWith(smallCheck);
});
afterAll(() => folder.remove());

const runSmall = (...more: string[]) => runBusdip([...smallWords, ...more], { cwd: folder.path });
const resultOf = (...more: string[]) => JSON.parse(runSmall("--json", ...more).stdout);

describe("busdip analyze", () => {
  it("analyze --json prints one result that obeys the published schema, and nothing else", () => {
    const { status, stdout, stderr } = runBusdip([...sampleCheck("ice-2-ramp"), "--json"], { cwd: folder.path });
    expect(stderr).toBe("");
    expect(status).toBe(0);
    const schema = readFileSync(new URL("../../src/report/busdip-result-1.schema.json", import.meta.url), "utf8");
    const validate = new Ajv2020({ allowUnionTypes: true, validateFormats: false }).compile(JSON.parse(schema));
    validate(JSON.parse(stdout));
    expect(validate.errors).toBeNull();
    expect(readdirSync(folder.path).sort()).toEqual(before);
  });

  it("analyze prints a line per load, the cautions and how to get a report, and writes nothing without --out", () => {
    const { status, stdout, stderr } = runSmall();
    expect(stderr).toBe("");
    expect(status).toBe(0);
    expect(stdout).toMatch(/responded +Heated probe/);
    expect(stdout).toMatch(/Caution/);
    expect(stdout).toContain("--out");
    expect(stdout).not.toContain("\u001b");
    expect(readdirSync(folder.path).sort()).toEqual(before);
  });

  it("analyze says below the answer which marks were left out, and refuses marks of another clock", () => {
    const marked = (marks: string) => {
      const own = folderWith({ ...smallCheck, "marks.csv": marks });
      const { stdout, stderr } = runBusdip([...smallWords], { cwd: own.path });
      own.remove();
      return `${stdout}${stderr}`.replace(/\s+/g, " ");
    };
    const some = smallCheck["marks.csv"].replace(/(time_s,load,action\n)/, "$10.1,probe,off\n");
    expect(marked(some)).toMatch(/The mark at 0\.1 s for .* was left out: the load is turned off without having been/);
    expect(marked(smallCheck["marks.csv"].replace(/^(?=\d)/gm, "36"))).toMatch(
      /^busdip: all \d+ marks, from 36\d+(\.\d)? s to 36\d+(\.\d)? s, lie outside the recording, /,
    );
  });

  it("analyze --strict exits with 1 for a load with no response, and with 0 where there is none", () => {
    expect(runBusdip([...sampleCheck("ice-2-ramp"), "--strict"]).status).toBe(1);
    expect(runBusdip([...sampleCheck("ice-2-noisy"), "--strict"]).status).toBe(0);
    expect(runSmall("--strict").status).toBe(0);
  });

  it("analyze --explain adds how the log was understood, why each verdict, and what was assumed", () => {
    const { stdout } = runSmall("--explain");
    expect(stdout).toContain("How the recording was understood");
    expect(stdout).toContain("Heated probe: responded.");
    expect(stdout).toContain("What was assumed");
  });

  it("analyze --false-alarm-rate and --power move the critical and the minimum detectable depth", () => {
    const usual = resultOf().detection;
    const lax = resultOf("--false-alarm-rate", "0.2").detection;
    const sure = resultOf("--power", "0.999").detection;
    expect(usual.falseAlarmRate).toBe(0.01);
    expect(lax.falseAlarmRate).toBe(0.2);
    expect(lax.criticalDepth_V).toBeLessThan(usual.criticalDepth_V);
    expect(sure.power).toBe(0.999);
    expect(sure.minimumDetectableDepth_V).toBeGreaterThan(usual.minimumDetectableDepth_V);
  });

  it("analyze --mark-uncertainty says how well the times are known", () => {
    const assumed = resultOf("--mark-uncertainty", "0.5")
      .assumptions.map((one: { text: string }) => one.text)
      .join(" ");
    expect(assumed).toMatch(/each taken as right within about 0\.50? s/);
  });

  it("analyze takes what a file of marks tells of itself, unless an option says otherwise", () => {
    const marks = `# times known to 0.1 s (standard uncertainty)\n${smallCheck["marks.csv"]}`;
    const own = folderWith({ ...smallCheck, "marks.csv": marks });
    const within = (...more: string[]) =>
      /right within about ([\d.]+) s/.exec(
        runBusdip([...smallWords, "--json", ...more], { cwd: own.path }).stdout,
      )?.[1];
    const found = [within(), within("--mark-uncertainty", "0.4"), within("--marks-offset", "0")].map(Number);
    own.remove();
    expect(found).toEqual([0.1, 0.4, 0.2]);
  });

  it("analyze with options about the log overrules what its header says", () => {
    const log = smallCheck["log.csv"].replace("time_s,voltage_V", "time_s,spare").replaceAll(",", ";");
    const odd = folderWith({ ...smallCheck, "log.csv": log });
    const words = [...smallWords, "--json", "--voltage-column", "2", "--voltage-unit", "V"];
    const outcome = runBusdip(words, { cwd: odd.path });
    odd.remove();
    expect(JSON.parse(outcome.stdout).loads).toEqual(resultOf().loads);
  });

  it("analyze - reads standard input as it reads the file", () => {
    const words = smallWords.map((word) => (word === "log.csv" ? "-" : word));
    const input = smallCheck["log.csv"];
    const fromInput = JSON.parse(runBusdip([...words, "--json"], { cwd: folder.path, input }).stdout);
    const fromFile = resultOf();
    expect(fromInput.loads).toEqual(fromFile.loads);
    expect(fromInput.recording.sha256).toBe(fromFile.recording.sha256);
  });

  it("a reader of stdout that goes away early is no fault", async () => {
    const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));
    const child = spawn(process.execPath, [main, ...smallWords, "--json"], {
      cwd: folder.path,
      stdio: ["ignore", "pipe", "pipe"],
    });
    child.stdout.destroy();
    let stderr = "";
    child.stderr.on("data", (chunk) => {
      stderr += chunk;
    });
    const status = await new Promise((resolve) => child.on("close", resolve));
    expect(stderr).toBe("");
    expect(status).toBe(0);
  });
});

describe("busdip analyze --current", () => {
  const amperes = (fromS: number) =>
    `time_s,current_A\n${[...smallRecording.timesS]
      .map((timeS) => `${timeS + fromS},${(timeS >= 10 && timeS < 15) || (timeS >= 20 && timeS < 25) ? 10 : 0}`)
      .join("\n")}\n`;

  it("analyze --current takes the current from a second log and gives the resistance by Ohm's law", () => {
    const two = folderWith({ ...smallCheck, "clamp.csv": amperes(0) });
    const words = ["analyze", "log.csv", "--current", "clamp.csv", "--json"];
    const { stdout, stderr } = runBusdip(words, { cwd: two.path });
    two.remove();
    expect(stderr).toBe("");
    // 0.12 V by 10 A is 12 mOhm.
    const { value, u } = JSON.parse(stdout).battery.resistance_mOhm;
    expect(Math.abs(value - 12)).toBeLessThan(4 * u);
    expect(u).toBeLessThan(1);
  });

  const runWith = (files: Readonly<Record<string, string>>, ...words: readonly string[]) => {
    const folder = folderWith({ ...smallCheck, ...files });
    const run = runBusdip(["analyze", ...words], { cwd: folder.path });
    folder.remove();
    return run;
  };

  it("analyze --current finds how far behind the clamp's clock is, and says so", () => {
    const { stdout, stderr, status } = runWith({ "clamp.csv": amperes(-3600) }, "log.csv", "--current", "clamp.csv");
    expect(stderr).toBe("");
    expect(status).toBe(0);
    const found = /The clock of clamp\.csv is ([\d.]+) s \u00b1 ([\d.]+) s \(95 %\) behind that of log\.csv/.exec(
      stdout,
    )!;
    expect(Math.abs(Number(found[1]) - 3600)).toBeLessThan(Number(found[2]) + 0.05);
    expect(Number(found[2])).toBeLessThan(0.3);
    // Two switchings of 5 s on and 5 s off could be anybody's.
    expect(stdout).toContain("Doubtful: switchings of another run in so even a rhythm would agree as well");
  });

  it("analyze --current says where both logs count from the same moment", () => {
    const { stdout } = runWith({ "clamp.csv": amperes(0) }, "log.csv", "--current", "clamp.csv");
    expect(stdout).toMatch(
      /The two logs count their time from the same moment, as 4 steps that both show confirm \(offset/,
    );
  });

  it("analyze --current refuses a current that tells no offset, and takes the one that is told", () => {
    const flat = `time_s,current_A\n${[...smallRecording.timesS].map((timeS) => `${timeS - 7},${timeS < 12 ? 0.1 : 0}`).join("\n")}\n`;
    const refused = runWith({ "clamp.csv": flat }, "log.csv", "--current", "clamp.csv");
    expect(refused.status).toBe(2);
    expect(refused.stderr).toMatch(
      /^busdip: clamp\.csv: the two logs share too few steps[^\n]+; say the seconds to add to its times with --current-offset[^\n]+\n$/,
    );
    const told = runWith({ "clamp.csv": amperes(-7) }, "log.csv", "--current", "clamp.csv", "--current-offset", "7");
    expect(told.status).toBe(0);
    expect(told.stdout).toContain("7 s were added to the times of clamp.csv, as you said.");
  });

  it("analyze --current brings logs with a clock of day together by it, midnight between them", () => {
    const stamped = (rows: string, name: string, startS: number) => {
      const clock = (s: number) => new Date(1000 * (((s % 86400) + 86400) % 86400)).toISOString().slice(11, 23);
      const [, ...lines] = rows.trimEnd().split("\n");
      return `time,${name}\n${lines.map((line) => `${clock(startS + Number(line.split(",")[0]))},${line.split(",")[1]}`).join("\n")}\n`;
    };
    const { stdout, stderr } = runWith(
      {
        "log.csv": stamped(smallCheck["log.csv"], "voltage_V", 86395),
        "clamp.csv": stamped(
          amperes(0)
            .split("\n")
            .filter((_, i) => i === 0 || i > 80)
            .join("\n"),
          "current_A",
          86395,
        ),
      },
      ...["log.csv", "--current", "clamp.csv", "--json"],
    );
    expect(stderr).toBe("");
    const result = JSON.parse(stdout);
    expect(result.recording.understood.join("\n")).toContain(
      "The two logs were brought together by their clocks of day, neither of which has a date",
    );
    const { value, u } = result.battery.resistance_mOhm;
    expect(Math.abs(value - 12)).toBeLessThan(4 * u);
  });

  it("analyze --current refuses a current of another hour by the logs' own clocks", () => {
    const dated = (rows: string, startS: number) =>
      rows.replace(/^[\d.-]+(?=,)/gm, (timeS) => new Date(1000 * (startS + Number(timeS))).toISOString());
    const { status, stderr } = runWith(
      { "log.csv": dated(smallCheck["log.csv"], 1.7e9), "clamp.csv": dated(amperes(0), 1.7e9 + 3600) },
      ...["log.csv", "--current", "clamp.csv"],
    );
    expect(stderr).toMatch(
      /^busdip: clamp\.csv: the current log and the voltage log do not overlap in time; [^\n]+\n$/,
    );
    expect(status).toBe(2);
  });

  it("analyze --current-offset without --current is refused, and so is asking for two things", () => {
    expect(runWith({}, "log.csv", "--current-offset", "3").stderr).toContain(
      "--current-offset stands without --current",
    );
    const both = runWith(
      { "clamp.csv": amperes(0) },
      "log.csv",
      "--current",
      "clamp.csv",
      "--align-clocks",
      "--current-offset",
      "3",
    );
    expect(both.stderr).toContain("--current-offset and --align-clocks exclude each other");
    expect(both.status).toBe(2);
  });
});
