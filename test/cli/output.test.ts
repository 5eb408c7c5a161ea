import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { folderWith, runBusdip } from "./run-busdip.js";
import { smallCheck, smallWords } from "./small-check.js";

let folder: ReturnType<typeof folderWith>;
beforeEach(() => {
  folder = folderWith(smallCheck);
});
afterEach(() => folder.remove());

const runSmall = (out: string, env: Record<string, string> = {}) =>
  runBusdip([...smallWords, "--out", out], { cwd: folder.path, env });
const text = (...path: string[]) => readFileSync(join(folder.path, ...path), "utf8");

describe("busdip analyze --out", () => {
  it("--out writes report, result and readings, and says where", () => {
    const { status, stdout } = runSmall("deep/report");
    expect(status).toBe(0);
    expect(readdirSync(join(folder.path, "deep", "report")).sort()).toEqual([
      "entry.txt",
      "recording.csv",
      "report.html",
      "report.pdf",
      "result.json",
    ]);
    expect(stdout).toContain(join("deep", "report", "report.html"));
    expect(JSON.parse(text("deep", "report", "result.json")).schema).toBe("busdip-result/1");
    expect(text("deep", "report", "report.html")).toMatch(/^<!DOCTYPE html>/);
  });

  it("--out into a used folder replaces the report and leaves other files alone", () => {
    mkdirSync(join(folder.path, "used"));
    writeFileSync(join(folder.path, "used", "report.html"), "old");
    writeFileSync(join(folder.path, "used", "notes.txt"), "mine");
    expect(runSmall("used").status).toBe(0);
    expect(text("used", "report.html")).not.toBe("old");
    expect(text("used", "notes.txt")).toBe("mine");
    expect(readdirSync(join(folder.path, "used")).sort()).toEqual([
      "entry.txt",
      "notes.txt",
      "recording.csv",
      "report.html",
      "report.pdf",
      "result.json",
    ]);
  });

  it("--out leaves the old result whole where the report cannot be written", () => {
    mkdirSync(join(folder.path, "used", "report.html"), { recursive: true });
    writeFileSync(join(folder.path, "used", "result.json"), "old");
    const { status, stderr } = runSmall("used");
    expect(stderr).toMatch(/^busdip: used: [^\n]+\n$/);
    expect(status).toBe(2);
    expect(text("used", "result.json")).toBe("old");
    expect(readdirSync(join(folder.path, "used")).sort()).toEqual(["report.html", "result.json"]);
  });

  it("the same inputs and the same SOURCE_DATE_EPOCH give the same files byte for byte", () => {
    // 2026-03-02T00:00:00Z, by date -u -d 2026-03-02 +%s.
    for (const name of ["one", "two"]) runSmall(name, { SOURCE_DATE_EPOCH: "1772409600" });
    for (const name of ["report.html", "report.pdf", "result.json", "recording.csv"]) {
      expect(text("one", name) === text("two", name), name).toBe(true);
    }
    expect(text("one", "result.json")).toContain("2026-03-02T00:00:00.000Z");
  });

  it("the readings that --out wrote give the same answers again", () => {
    runSmall("one");
    const first = JSON.parse(text("one", "result.json"));
    const words = smallWords.map((word) => (word === "log.csv" ? join("one", "recording.csv") : word));
    const again = JSON.parse(runBusdip([...words, "--json"], { cwd: folder.path }).stdout);
    expect(again.loads).toEqual(first.loads);
    expect(again.dips).toEqual(first.dips);
  });
});

describe("busdip demo", () => {
  it("demo judges every sample and says where the reports lie", () => {
    const { status, stdout, stderr } = runBusdip(["demo"], { cwd: folder.path });
    expect(stderr).toBe("");
    expect(status).toBe(0);
    expect(stdout).toContain(`begin with ${join("reports", "demo", "ice-2-ramp", "report.html")}`);
    expect(stdout).toContain("simulated");
    for (const name of ["ice-2-ramp", "ice-2-noisy", "ice-2-bench", "ice-2-unmarked"]) {
      expect(existsSync(join(folder.path, "reports", "demo", name, "report.html")), name).toBe(true);
    }
  });
});
