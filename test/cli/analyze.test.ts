import { spawn } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { Ajv2020 } from "ajv/dist/2020.js";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { folderWith, runBusdip, samplesFolder } from "./run-busdip.js";

const sample = (name: string) => join(samplesFolder, name);
const rampCheck = [
  "analyze",
  sample("ice-2-ramp.csv"),
  "--profile",
  sample("ice-2.profile.yaml"),
  "--marks",
  sample("ice-2-ramp.marks.csv"),
];
const schemaPath = new URL("../../src/report/busdip-result-1.schema.json", import.meta.url);

let folder: ReturnType<typeof folderWith>;
beforeEach(() => {
  folder = folderWith();
});
afterEach(() => folder.remove());

describe("busdip analyze", () => {
  it("analyze --json prints one result that obeys the published schema, and nothing else", () => {
    const { status, stdout, stderr } = runBusdip([...rampCheck, "--json"], { cwd: folder.path });
    expect(stderr).toBe("");
    expect(status).toBe(0);
    const validate = new Ajv2020({ allowUnionTypes: true, validateFormats: false }).compile(
      JSON.parse(readFileSync(schemaPath, "utf8")),
    );
    validate(JSON.parse(stdout));
    expect(validate.errors).toBeNull();
    expect(readdirSync(folder.path)).toEqual([]);
  });

  it("analyze prints one line per load and the cautions, and writes nothing without --out", () => {
    const { status, stdout, stderr } = runBusdip(rampCheck, { cwd: folder.path });
    expect(stderr).toBe("");
    expect(status).toBe(0);
    for (const load of ["Landing light", "Probe heat A", "Probe heat B", "Stall-vane heat", "Survey altimeter"]) {
      expect(stdout).toContain(load);
    }
    expect(stdout).toMatch(/Caution/);
    expect(stdout).toContain("--out");
    expect(readdirSync(folder.path)).toEqual([]);
  });

  it("analyze --strict exits with 1 for a load with no response, and with 0 where there is none", () => {
    expect(runBusdip([...rampCheck, "--strict"]).status).toBe(1);
    const noisy = ["analyze", sample("ice-2-noisy.csv"), "--profile", sample("ice-2.profile.yaml"), "--strict"];
    expect(runBusdip([...noisy, "--marks", sample("ice-2-noisy.marks.csv")]).status).toBe(0);
  });

  it("analyze --explain adds why and what was assumed", () => {
    const { stdout } = runBusdip([...rampCheck, "--explain"]);
    expect(stdout).toContain("Why each verdict");
    expect(stdout).toContain("What was assumed");
  });

  it("analyze --out writes report, result and readings, and says where", () => {
    const out = join(folder.path, "deep", "report");
    const { status, stdout } = runBusdip([...rampCheck, "--out", out]);
    expect(status).toBe(0);
    expect(readdirSync(out).sort()).toEqual(["recording.csv", "report.html", "result.json"]);
    expect(stdout.replace(/\s/g, "")).toContain(join(out, "report.html"));
    const result = JSON.parse(readFileSync(join(out, "result.json"), "utf8"));
    expect(result.schema).toBe("busdip-result/1");
    expect(readFileSync(join(out, "report.html"), "utf8")).toMatch(/^<!DOCTYPE html>/);
    const rows = readFileSync(join(out, "recording.csv"), "utf8").trim().split("\n");
    expect(rows[0]).toBe("time_s,voltage_V");
    expect(rows.length - 1).toBe(result.recording.samples);
  });

  it("analyze --out into a used folder replaces the report and leaves other files alone", () => {
    writeFileSync(join(folder.path, "report.html"), "old");
    writeFileSync(join(folder.path, "notes.txt"), "mine");
    expect(runBusdip([...rampCheck, "--out", folder.path]).status).toBe(0);
    expect(readFileSync(join(folder.path, "report.html"), "utf8")).not.toBe("old");
    expect(readFileSync(join(folder.path, "notes.txt"), "utf8")).toBe("mine");
    expect(readdirSync(folder.path).filter((name) => name.includes("unfinished"))).toEqual([]);
  });

  it("analyze --out leaves the old result whole where the report cannot be written", () => {
    mkdirSync(join(folder.path, "report.html"));
    writeFileSync(join(folder.path, "result.json"), "old");
    const { status, stderr } = runBusdip([...rampCheck, "--out", folder.path]);
    expect(stderr).toMatch(/^busdip: [^\n]+\n$/);
    expect(status).toBe(2);
    expect(readFileSync(join(folder.path, "result.json"), "utf8")).toBe("old");
    expect(readdirSync(folder.path).sort()).toEqual(["report.html", "result.json"]);
  });

  it("the same inputs and the same SOURCE_DATE_EPOCH give the same files byte for byte", () => {
    const env = { SOURCE_DATE_EPOCH: "1772409600" };
    for (const name of ["one", "two"]) runBusdip([...rampCheck, "--out", name], { cwd: folder.path, env });
    for (const name of ["report.html", "result.json", "recording.csv"]) {
      const [one, two] = ["one", "two"].map((out) => readFileSync(join(folder.path, out, name), "utf8"));
      expect(two === one, name).toBe(true);
    }
    expect(readFileSync(join(folder.path, "one", "result.json"), "utf8")).toContain("2026-03-02T00:00:00.000Z");
  });

  it("analyze - reads standard input as it reads the file", () => {
    const words = ["--profile", sample("ice-2.profile.yaml"), "--marks", sample("ice-2-ramp.marks.csv"), "--json"];
    const fromFile = JSON.parse(runBusdip(["analyze", sample("ice-2-ramp.csv"), ...words]).stdout);
    const input = readFileSync(sample("ice-2-ramp.csv"), "utf8");
    const fromInput = JSON.parse(runBusdip(["analyze", "-", ...words], { input }).stdout);
    expect(fromInput.loads).toEqual(fromFile.loads);
    expect(fromInput.recording.sha256).toBe(fromFile.recording.sha256);
  });

  it("analyze of the readings it wrote gives the same verdicts and depths again", () => {
    const words = ["--profile", sample("ice-2.profile.yaml"), "--marks", sample("ice-2-ramp.marks.csv")];
    runBusdip(["analyze", sample("ice-2-ramp.csv"), ...words, "--out", folder.path]);
    const first = JSON.parse(readFileSync(join(folder.path, "result.json"), "utf8"));
    const again = JSON.parse(runBusdip(["analyze", join(folder.path, "recording.csv"), ...words, "--json"]).stdout);
    expect(again.loads).toEqual(first.loads);
  });

  it("a reader of stdout that goes away early is no fault", async () => {
    const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));
    const child = spawn(process.execPath, [main, ...rampCheck, "--json"], { stdio: ["ignore", "pipe", "pipe"] });
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

describe("busdip demo", () => {
  it("demo judges every sample and says where the reports lie", () => {
    const { status, stdout, stderr } = runBusdip(["demo"], { cwd: folder.path });
    expect(stderr).toBe("");
    expect(status).toBe(0);
    const first = join("reports", "demo", "ice-2-ramp", "report.html");
    expect(stdout).toContain(`begin with ${first}`);
    for (const name of ["ice-2-ramp", "ice-2-noisy", "ice-2-bench", "ice-2-unmarked"]) {
      expect(existsSync(join(folder.path, "reports", "demo", name, "report.html"))).toBe(true);
    }
    expect(stdout).toContain("simulated");
  });
});

describe("busdip --version", () => {
  it("--version prints the version of package.json", () => {
    const { version } = JSON.parse(readFileSync(new URL("../../package.json", import.meta.url), "utf8"));
    expect(runBusdip(["--version"])).toEqual({ status: 0, stdout: `${version}\n`, stderr: "" });
  });
});
