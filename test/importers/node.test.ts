import { createHash } from "node:crypto";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { afterAll, describe, expect, it } from "vitest";
import {
  formatLogDescription,
  mergeLogOptions,
  parseLogDescription,
  readCurrentLog,
  readLog,
} from "../../src/importers/node.js";
import { logOnStandardInput } from "../../src/importers/node-log-file.js";

const folder = mkdtempSync(join(tmpdir(), "log-"));
afterAll(() => rmSync(folder, { recursive: true }));

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

const LOG = "time_s,voltage_V\n0,27.3\n1,27.2\n";

describe("readLog()", () => {
  it("gives the SHA-256, the size and the name of the stored file", async () => {
    const reading = await readLog([file("plain.csv", LOG)]);
    expect(reading.sha256).toBe(createHash("sha256").update(LOG).digest("hex"));
    expect(reading.bytes).toBe(LOG.length);
    expect(reading.source).toBe("plain.csv");
  });

  it("gives the SHA-256 of a file so large that it is hashed beside the reading", async () => {
    const content = `time_s,voltage_V\n${Array.from({ length: 1_400_000 }, (_, i) => `${i},27.3`).join("\n")}\n`;
    expect(content.length).toBeGreaterThan(1 << 24);
    const reading = await readLog([file("hashed.csv", content)]);
    expect(reading.sha256).toBe(createHash("sha256").update(content).digest("hex"));
    expect(reading.bytes).toBe(content.length);
  });

  it("unpacks gzip on the way and hashes the packed bytes", async () => {
    const packed = gzipSync(LOG);
    const reading = await readLog([file("packed.csv.gz", packed)]);
    expect(Array.from(reading.recording.voltagesV)).toEqual([27.3, 27.2]);
    expect(reading.sha256).toBe(createHash("sha256").update(packed).digest("hex"));
    expect(reading.understood[0]!.code).toBe("compressed");
  });

  it("refuses gzip that is cut short", async () => {
    const packed = gzipSync(LOG.repeat(50));
    await expect(readLog([file("cut.gz", packed.subarray(0, packed.length - 12))])).rejects.toThrow(
      "cut.gz: the compressed data are damaged or cut short; copy the file again, or unpack it and give what can be read",
    );
  });

  it("reads a file larger than its first look and one piece of the disk", async () => {
    const count = 120_000;
    const rows = Array.from({ length: count }, (_, i) => `${i / 100},27.${String(i % 1000).padStart(3, "0")}`);
    const { recording } = await readLog([file("large.csv", `time_s,voltage_V\n${rows.join("\n")}\n`)]);
    expect(recording.timesS.length).toBe(count);
    expect(recording.timesS.every((time, i) => time === i / 100)).toBe(true);
    expect(recording.voltagesV.every((volts, i) => volts === Number(`27.${String(i % 1000).padStart(3, "0")}`))).toBe(
      true,
    );
  });

  it("settles day and month by a date far behind the first look, reading anew", async () => {
    // Twelve days at one reading in two seconds: the 13th comes after some 12 MB.
    const day = (d: number, s: number): string =>
      `${String(d).padStart(2, "0")}/03/2026 ${new Date(s * 1000).toISOString().slice(11, 19)}`;
    const stamps = Array.from({ length: 13 }, (_, d) =>
      Array.from({ length: 2000 }, (_, i) => day(d + 1, i * 43)),
    ).flat();
    const { startEpochS } = await readLog([
      file("days.csv", `timestamp,voltage_V\n${stamps.map((s) => `${s},27.3`).join("\n")}\n`),
    ]);
    expect(startEpochS).toBe(Date.UTC(2026, 2, 1) / 1000);
    const { startEpochS: swapped } = await readLog([
      file(
        "days-us.csv",
        `timestamp,voltage_V\n${stamps.map((s) => `${s.slice(3, 6)}${s.slice(0, 3)}${s.slice(6)},27.3`).join("\n")}\n`,
      ),
    ]);
    expect(swapped).toBe(startEpochS);
  });

  it("joins the files of one recording in the order of their stamps", async () => {
    const first = file("a.csv", "timestamp,voltage_V\n2026-03-02T10:00:00Z,27.3\n2026-03-02T10:00:01Z,27.2\n");
    const second = file("b.csv", "timestamp,voltage_V,current_A\n2026-03-02T10:00:05Z,27.1,5\n");
    for (const paths of [
      [first, second],
      [second, first],
    ]) {
      const { recording, understood } = await readLog(paths);
      expect(Array.from(recording.timesS)).toEqual([0, 1, 5]);
      expect(Array.from(recording.voltagesV)).toEqual([27.3, 27.2, 27.1]);
      expect(Array.from(recording.current!.timesS)).toEqual([5]);
      expect(understood.some(({ code }) => code === "files-ordered")).toBe(paths[0] === second);
    }
  });

  it("carries elapsed times on over files only with the gap told", async () => {
    const paths = [file("p1.csv", LOG), file("p2.csv", LOG)];
    await expect(readLog(paths)).rejects.toThrow(
      "p2.csv: its elapsed times start anew, so the time since the file before is not known; " +
        "say it with --file-gap SECONDS, or analyze the files one by one",
    );
    const { recording } = await readLog(paths, { fileGapS: 2.5 });
    expect(Array.from(recording.timesS)).toEqual([0, 1, 3.5, 4.5]);
  });

  it("refuses files whose times overlap", async () => {
    const path = file("o.csv", "timestamp,voltage_V\n2026-03-02T10:00:00Z,27.3\n2026-03-02T10:00:09Z,27.2\n");
    const other = file("o2.csv", "timestamp,voltage_V\n2026-03-02T10:00:05Z,27.3\n2026-03-02T10:00:06Z,27.2\n");
    await expect(readLog([path, other])).rejects.toThrow("o2.csv: its times overlap those of o.csv");
  });

  it("names the file that is at fault", async () => {
    const good = file("good.csv", LOG);
    const bad = file("bad.csv", "time_s,voltage_V\n5,27.3\n6,abc\n");
    await expect(readLog([good, bad])).rejects.toThrow("bad.csv, line 3: the voltage reads 'abc', which is none");
  });

  it.each([
    ["a missing file", () => join(folder, "none.csv"), "there is no such file; check the path"],
    ["a folder", () => folder, "this is a folder; give a log file"],
  ])("refuses %s with one sentence", async (_name, path, sentence) => {
    await expect(readLog([path()])).rejects.toThrow(`${path()}: ${sentence}`);
  });

  it("keeps a temperature beside the voltage", async () => {
    const { temperature } = await readLog([
      file("t.csv", "time_s,voltage_V,temp (°F)\n0,27.3,68\n1,27.2,\n2,27.2,212\n"),
    ]);
    expect(Array.from(temperature!.timesS)).toEqual([0, 2]);
    expect(Array.from(temperature!.temperaturesC)).toEqual([20, 100]);
  });
});

describe("readCurrentLog()", () => {
  it("reads a clamp meter's log without any voltage", async () => {
    const { current } = await readCurrentLog([
      file("clamp.csv", "Time;Value;Unit\n10:00:00;0,95;A DC\n10:00:01;OL;A DC\n10:00:02;1,02;A DC\n"),
    ]);
    expect(Array.from(current.timesS)).toEqual([0, 2]);
    expect(Array.from(current.currentsA)).toEqual([0.95, 1.02]);
  });

  it("refuses a log without a current", async () => {
    await expect(readCurrentLog([file("v.csv", LOG)])).rejects.toThrow("v.csv: no current column was found");
  });
});

describe("logOnStandardInput()", () => {
  async function* pieces(): AsyncGenerator<Uint8Array> {
    for (const piece of ["time_s,vol", "tage_V\n0,27.3\n1,2", "7.2\n"]) yield Buffer.from(piece);
  }
  const drained = async (log: ReturnType<typeof logOnStandardInput>): Promise<string> => {
    let text = "";
    for await (const chunk of log.open()) text += Buffer.from(chunk).toString();
    return text;
  };

  it("gives the same bytes when opened again, until it is released", async () => {
    const log = logOnStandardInput(pieces());
    expect(await drained(log)).toBe(LOG);
    expect(await drained(log)).toBe(LOG);
    log.release!();
    expect(await drained(log)).toBe("");
  });
});

describe("parseLogDescription()", () => {
  it("reads back what formatLogDescription() wrote", () => {
    const options = {
      delimiter: "tab",
      decimal: ",",
      voltageColumn: "Bus V",
      currentColumn: 4,
      missing: ["x"],
    } as const;
    expect(parseLogDescription(formatLogDescription({ ...options, missing: ["x"] }), "log.yaml")).toEqual(options);
  });

  it.each([
    ["delimter: ;\n", "log.yaml: the key 'delimter' is not known"],
    ["decimal: x\n", "log.yaml: the value of 'decimal' does not fit"],
    ["decimal: [\n", "log.yaml, line 2, column 1: the YAML cannot be read here"],
    ["- 1\n", "log.yaml: the value of 'the file' does not fit"],
  ])("refuses %j with one sentence", (text, sentence) => {
    expect(() => parseLogDescription(text, "log.yaml")).toThrow(sentence);
  });

  it("lets mergeLogOptions() put what was said on the command line first", () => {
    expect(mergeLogOptions({ decimal: "." }, { decimal: ",", delimiter: ";" })).toEqual({
      decimal: ".",
      delimiter: ";",
    });
  });
});
