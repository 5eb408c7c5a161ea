import { execFileSync, spawn, spawnSync } from "node:child_process";
import { chmodSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import Database from "libsql";
import { afterAll, describe, expect, it } from "vitest";
import { randomGenerator } from "../../src/core/statistics/random.js";
import { openHistory } from "../../src/history/index.js";
import { entry } from "./entries.js";
import { transpiledAdder } from "./transpile.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-faults-"));
const adder = transpiledAdder(join(folder, "js"));
chmodSync(folder, 0o755);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// npm run bench:history kills 200 times.
const KILLS = Number(process.env.BUSDIP_KILLS ?? 10);

/** Adds recordings in a child until it is killed; the numbers that were acknowledged. */
function addUntilKilled(path: string, first: number, afterMs: number): Promise<number[]> {
  return new Promise((resolve) => {
    const child = spawn(process.execPath, [adder, path, String(first), "100000"], {
      stdio: ["ignore", "pipe", "ignore"],
    });
    let said = "";
    child.stdout.on("data", (data) => {
      if (said === "") setTimeout(() => child.kill("SIGKILL"), afterMs);
      said += data;
    });
    // A line cut short by the kill was still acknowledged only if it ends.
    child.on("close", () => resolve(said.split("\n").slice(0, -1).map(Number)));
  });
}

function integrity(path: string): unknown {
  const database = new Database(path);
  const answer = database.prepare("PRAGMA integrity_check").all();
  database.close();
  return answer;
}

describe("history under faults", () => {
  it(
    `a process killed at ${KILLS} random moments loses nothing that was acknowledged and harms nothing`,
    async () => {
      const path = join(folder, "killed.db");
      const generator = randomGenerator(77);
      const acknowledged = new Set<number>();
      for (let kill = 0; kill < KILLS; kill++) {
        for (const number of await addUntilKilled(path, 1000 * kill, 25 * generator.uniform()))
          acknowledged.add(number);
        expect(integrity(path)).toEqual([{ integrity_check: "ok" }]);
        const history = openHistory({ kind: "file", path }, { make: false });
        const held = new Set(history.recordings().map((line) => Number.parseInt(line.hash, 16)));
        history.close();
        expect([...acknowledged].filter((number) => !held.has(number))).toEqual([]);
        // At most the one that was being written when the kill came.
        expect(held.size).toBeLessThanOrEqual(acknowledged.size + kill + 1);
      }
      expect(acknowledged.size).toBeGreaterThan(KILLS);
      const history = openHistory({ kind: "file", path }, { make: false });
      for (const line of history.recordings()) expect(history.recordingsBy(line.hash)[0].estimates).toHaveLength(2);
      history.close();
    },
    60_000 + 3000 * KILLS,
  );

  it("two processes that write at once lose nothing", async () => {
    const path = join(folder, "two.db");
    const writer = (first: number) =>
      new Promise<number | null>((resolve) => {
        spawn(process.execPath, [adder, path, String(first), "60"], { stdio: "ignore" }).on("close", resolve);
      });
    expect(await Promise.all([writer(0), writer(500), writer(1000)])).toEqual([0, 0, 0]);
    const history = openHistory({ kind: "file", path }, { make: false });
    expect(history.recordings()).toHaveLength(180);
    history.close();
    expect(integrity(path)).toEqual([{ integrity_check: "ok" }]);
  });

  it("a full disk: one sentence, and what was there stays", () => {
    const path = join(folder, "full.db");
    const history = openHistory({ kind: "file", path }, { make: true });
    for (let number = 0; number < 20; number++) history.add(entry(number));
    const before = history.content();
    history.close();
    // A limit on the size of a file stands in for the end of the disk; its signal is ignored, so that writing fails.
    const limited = spawnSync("bash", [
      "-c",
      `trap '' XFSZ; ulimit -f 120; exec "$0" "$@"`,
      process.execPath,
      adder,
      path,
      "100",
      "5000",
    ]);
    expect(limited.status).not.toBe(0);
    expect(String(limited.stderr)).toContain(
      `${path}: the disk is full, nothing was added; make room, or give a history on another disk after --store`,
    );
    const after = openHistory({ kind: "file", path }, { make: false });
    const said = String(limited.stdout).trim().split("\n").filter(Boolean).length;
    expect(after.recordings()).toHaveLength(before.recordings.length + said);
    expect(after.content().recordings.slice(0, 20)).toEqual(before.recordings);
    after.close();
    expect(integrity(path)).toEqual([{ integrity_check: "ok" }]);
  });

  it("a file that may not be written: one sentence, nothing changed", () => {
    const place = join(folder, "protected");
    mkdirSync(place);
    const path = join(place, "history.db");
    const history = openHistory({ kind: "file", path }, { make: true });
    history.add(entry(1));
    history.close();
    const bytes = readFileSync(path);
    chmodSync(path, 0o444);
    chmodSync(place, 0o555);
    // Nobody: the superuser may write everything.
    const user = process.getuid?.() === 0 ? { uid: 65_534, gid: 65_534 } : {};
    const denied = spawnSync(process.execPath, [adder, path, "2", "1"], user);
    chmodSync(place, 0o755);
    expect(denied.status).not.toBe(0);
    expect(String(denied.stderr)).toContain(
      `${path}: this history may not be written; change the permissions of the file and its folder, or give another after --store`,
    );
    expect(readFileSync(path).equals(bytes)).toBe(true);
  });

  it("a file that is no database: one sentence, nothing changed", () => {
    const path = join(folder, "letter.db");
    const text = "Dear pilot, this is a letter and no database, but it is long enough to be read as a page.\n".repeat(
      40,
    );
    writeFileSync(path, text);
    expect(() => openHistory({ kind: "file", path }, { make: true })).toThrow(
      `${path}: this file is not a history; give another file after --store, or move this one away`,
    );
    expect(readFileSync(path, "utf8")).toBe(text);
  });

  it("a database of another program: one sentence, nothing changed", () => {
    const path = join(folder, "other.db");
    const other = new Database(path);
    other.exec("CREATE TABLE customer (name TEXT)");
    other.close();
    const bytes = readFileSync(path);
    expect(() => openHistory({ kind: "file", path }, { make: true })).toThrow(
      `${path}: this database belongs to another program; give another file after --store`,
    );
    expect(readFileSync(path).equals(bytes)).toBe(true);
  });

  it("a newer schema: one sentence, nothing changed", () => {
    const path = join(folder, "newer.db");
    openHistory({ kind: "file", path }, { make: true }).close();
    const newer = new Database(path);
    newer.exec("UPDATE history_schema SET version = 99");
    newer.pragma("wal_checkpoint(TRUNCATE)");
    newer.close();
    const bytes = readFileSync(path);
    expect(() => openHistory({ kind: "file", path }, { make: true })).toThrow(
      /newer\.db: this history was written by a newer version of busdip \(schema 99, this one knows \d+\); use that version$/,
    );
    expect(readFileSync(path).equals(bytes)).toBe(true);
  });

  it("a damaged history: one sentence", () => {
    const path = join(folder, "damaged.db");
    const history = openHistory({ kind: "file", path }, { make: true });
    for (let number = 0; number < 60; number++) history.add(entry(number));
    history.close();
    const bytes = readFileSync(path);
    bytes.fill(0xa5, 8192, bytes.length - 4096);
    writeFileSync(path, bytes);
    expect(() => openHistory({ kind: "file", path }, { make: false }).content()).toThrow(
      `${path}: this history is damaged; bring back a copy, or take it out of an export with busdip history import`,
    );
  });

  it("close() leaves the whole history in the one file", () => {
    const path = join(folder, "alone.db");
    const history = openHistory({ kind: "file", path }, { make: true });
    history.add(entry(1));
    history.close();
    const copy = join(folder, "copy.db");
    writeFileSync(copy, readFileSync(path));
    const copied = openHistory({ kind: "file", path: copy }, { make: false });
    expect(copied.recordings()).toHaveLength(1);
    copied.close();
  });

  it("a folder, or no file where one must be: one sentence", () => {
    expect(() => openHistory({ kind: "file", path: folder }, { make: true })).toThrow(
      `${folder}: this is a folder; give the file of the history after --store`,
    );
    const path = join(folder, "missing.db");
    expect(() => openHistory({ kind: "file", path }, { make: false })).toThrow(
      `${path}: there is no history yet; add a recording with busdip history add or busdip analyze --store`,
    );
    expect(() => execFileSync("test", ["-e", path])).toThrow();
  });
});
