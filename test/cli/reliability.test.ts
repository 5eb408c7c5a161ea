import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { writeIntoFolder } from "../../src/cli/output-folder.js";
import { InputError } from "../../src/importers/input-error.js";
import { folderWith, runBusdip } from "./run-busdip.js";
import { smallCheck, smallWords } from "./small-check.js";

const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));
let folder: ReturnType<typeof folderWith>;
beforeAll(() => {
  folder = folderWith(smallCheck);
});
afterAll(() => folder.remove());

const sentence = /^busdip: [^\n]+; [^\n]+\n$/;
/** A shell line in the folder, `busdip` being the built program. */
function shell(line: string) {
  const script = `busdip() { "${process.execPath}" "${main}" "$@"; }\n${line}`;
  return spawnSync("bash", ["-c", script], { cwd: folder.path, encoding: "utf8", timeout: 120_000 });
}

describe.runIf(process.platform === "linux")("output that cannot be written", () => {
  it("to a full disk is said in one sentence, exit status 2", () => {
    const { status, stderr } = shell("busdip analyze log.csv --json > /dev/full");
    expect(stderr).toMatch(sentence);
    expect(stderr).toContain("the disk is full");
    expect(status).toBe(2);
  });

  it("to a reader that has gone away is no fault", () => {
    const { stdout, stderr } = shell("busdip analyze log.csv --json | head -c 1; echo; echo ${PIPESTATUS[0]}");
    expect(stdout).toBe("{\n0\n");
    expect(stderr).toBe("");
  });

  it("to a stream that was closed beforehand is no crash", () => {
    const { status, stderr } = shell("busdip analyze log.csv >&-");
    expect(stderr).not.toContain("own fault");
    expect(status).not.toBe(70);
  });

  it.each(["/proc/report", "/sys/report"])("below %s ends, is said in one sentence and leaves nothing", (out) => {
    const { status, stdout, stderr } = runBusdip([...smallWords, "--out", out], { cwd: folder.path });
    expect(stderr).toMatch(sentence);
    expect([status, stdout]).toEqual([2, ""]);
    expect(existsSync(out)).toBe(false);
  });

  it("beyond the size that the system allows a file is said, and nothing is left", () => {
    const { stdout, stderr } = shell(`ulimit -f 20; busdip ${smallWords.join(" ")} --out large > told.txt; echo $?`);
    expect(stderr).toMatch(sentence);
    expect(stdout).toBe("2\n");
    expect(existsSync(join(folder.path, "large"))).toBe(false);
  });
});

describe("writeIntoFolder()", () => {
  it.runIf(process.platform === "linux")("on a disk that fills up keeps the earlier report whole", async () => {
    const out = join(folder.path, "fills-up");
    await writeIntoFolder(out, new Map([["a.txt", "earlier"]]));
    // The kernel's own full device stands where the second file is begun.
    symlinkSync("/dev/full", join(out, `.b.txt.${process.pid}.unfinished`));
    const writing = writeIntoFolder(
      out,
      new Map([
        ["a.txt", "later"],
        ["b.txt", "later"],
      ]),
    );
    await expect(writing).rejects.toThrow(InputError);
    await expect(writing).rejects.toThrow("the disk is full");
    expect(readdirSync(out)).toEqual(["a.txt"]);
    expect(readFileSync(join(out, "a.txt"), "utf8")).toBe("earlier");
  });

  it("where a folder stands in the place of a file leaves no unfinished file", async () => {
    const out = join(folder.path, "taken");
    mkdirSync(join(out, "b.txt"), { recursive: true });
    await expect(writeIntoFolder(out, new Map([["b.txt", "later"]]))).rejects.toThrow(InputError);
    expect(readdirSync(out)).toEqual(["b.txt"]);
  });

  it("makes the folders above, and takes them away again where the last cannot be made", async () => {
    const out = join(folder.path, "one/two/three");
    await writeIntoFolder(out, new Map([["a.txt", "a"]]));
    expect(readFileSync(join(out, "a.txt"), "utf8")).toBe("a");
    await expect(writeIntoFolder(join(out, "a.txt/four"), new Map([["b.txt", "b"]]))).rejects.toThrow(InputError);
    expect(readdirSync(out)).toEqual(["a.txt"]);
  });
});

describe.runIf(process.platform === "linux")("input that fails while it is read", () => {
  it.each([
    ["the recording", ["analyze", "/proc/self/mem"]],
    ["the profile", ["analyze", "log.csv", "--profile", "/proc/self/mem"]],
    ["the marks", ["analyze", "log.csv", "--marks", "/proc/self/mem"]],
    ["the record", ["verify", "/proc/self/mem"]],
    ["the clip", ["film", "/proc/self/mem"]],
    ["the history", ["history", "list", "--store", "/proc/self/mem"]],
  ])("%s is said in one sentence, exit status 2", (_, words) => {
    const { status, stdout, stderr } = runBusdip(words, { cwd: folder.path });
    expect(stderr).toMatch(sentence);
    expect([status, stdout]).toEqual([2, ""]);
  });
});

/** Runs the small check with a report and ends it by a signal after some time; what lies in the output folder then. */
function interrupted(
  signal: NodeJS.Signals,
  afterMs: number,
  out: string,
): Promise<{ code: number | null; files: string[] }> {
  return new Promise((resolve) => {
    const child = spawn(process.execPath, [main, ...smallWords, "--out", out], { cwd: folder.path, stdio: "ignore" });
    const timer = setTimeout(() => child.kill(signal), afterMs);
    child.on("close", (code) => {
      clearTimeout(timer);
      const path = join(folder.path, out);
      resolve({ code, files: existsSync(path) ? readdirSync(path) : [] });
    });
  });
}

/** Whether a file of a report ends as it should. */
function isWhole(path: string): boolean {
  const text = readFileSync(path, "latin1");
  if (path.endsWith(".json")) return text.endsWith("}\n");
  if (path.endsWith(".html")) return text.trimEnd().endsWith("</html>");
  if (path.endsWith(".pdf")) return text.trimEnd().endsWith("%%EOF");
  return text.endsWith("\n");
}

const KILLS = Number(process.env.BUSDIP_KILLS ?? 3);

describe("a report that is interrupted", () => {
  it.each(["SIGINT", "SIGKILL"] as const)(
    `by %s at ${KILLS} moments leaves whole files only`,
    async (signal) => {
      const began = Date.now();
      const whole = await interrupted(signal, 600_000, `whole-${signal}`);
      const lastsMs = Date.now() - began;
      expect(whole.code).toBe(0);
      expect(whole.files.length).toBeGreaterThanOrEqual(4);
      for (let kill = 0; kill < KILLS; kill++) {
        // Most of the moments lie near the end, where files are written.
        const out = `${signal}-${kill}`;
        const { files } = await interrupted(signal, lastsMs * (0.5 + (0.55 * (kill + 0.5)) / KILLS), out);
        for (const name of files.filter((one) => !one.startsWith(".")))
          expect(isWhole(join(folder.path, out, name)), `${out}/${name}`).toBe(true);
        if (signal === "SIGINT") expect(files.filter((one) => one.endsWith(".unfinished"))).toEqual([]);
      }
    },
    300_000,
  );
});

describe("little memory", () => {
  it("of 64 MB is enough for the small check", () => {
    const { status, stderr } = runBusdip(smallWords, {
      cwd: folder.path,
      env: { NODE_OPTIONS: "--max-old-space-size=64" },
    });
    expect([status, stderr]).toEqual([0, ""]);
  });

  it("of 8 MB ends the program before anything is written", () => {
    rmSync(join(folder.path, "no-memory"), { recursive: true, force: true });
    const many = Array.from({ length: 400_000 }, (_, i) => `${i / 10},24.${i % 10}`).join("\n");
    writeFileSync(join(folder.path, "many.csv"), `time_s,voltage_V\n${many}\n`);
    const { status } = runBusdip(["analyze", "many.csv", "--out", "no-memory"], {
      cwd: folder.path,
      env: { NODE_OPTIONS: "--max-old-space-size=8 --max-semi-space-size=1" },
    });
    expect(status).not.toBe(0);
    expect(existsSync(join(folder.path, "no-memory"))).toBe(false);
  });
});
