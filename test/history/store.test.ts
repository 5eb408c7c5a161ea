import { type ChildProcess, spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { type History, openHistory, type StoreLocation } from "../../src/history/index.js";
import { entry } from "./entries.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-store-"));
const TOKEN = "let-me-in";
let server: ChildProcess;
let serverUrl = "";

beforeAll(async () => {
  const script = new URL("./server-double.ts", import.meta.url).pathname;
  server = spawn(process.execPath, ["--import", "tsx", script, join(folder, "server.db"), TOKEN]);
  const port = await new Promise<string>((resolve, reject) => {
    server.stdout!.once("data", (data) => resolve(String(data).trim()));
    server.stderr!.once("data", (data) => reject(new Error(String(data))));
  });
  serverUrl = `http://127.0.0.1:${port}`;
});

afterAll(() => {
  server.kill();
  rmSync(folder, { recursive: true, force: true });
});

let files = 0;
const PLACES: readonly (readonly [string, () => StoreLocation])[] = [
  ["a file", () => ({ kind: "file", path: join(folder, `history-${files++}.db`) })],
  ["a server", () => ({ kind: "server", url: serverUrl, token: TOKEN })],
];

describe.each(PLACES)("history in %s", (_, place) => {
  let history: History;

  beforeEach(() => {
    const location = place();
    history = openHistory(location, { make: true });
    const hashes = history.recordings().map((line) => line.hash);
    history.remove(hashes);
    return () => history.close();
  });

  it("twins() names recordings of one day that tell the very same resistance", () => {
    const again = entry(7, { hash: "f".repeat(64), atS: entry(7).atS + 60, source: "flight-7-again.csv" });
    history.add(entry(7));
    history.add(entry(8));
    history.add(entry(7, { hash: "e".repeat(64), atS: entry(9).atS }));
    history.add(entry(7, { hash: "d".repeat(64), battery: "B-0999" }));
    expect(history.twins()).toEqual([]);
    history.add(again);
    const found = [{ battery: "B-0417", atS: entry(7).atS, hashes: [entry(7).hash, again.hash] }];
    expect(history.twins()).toEqual(found);
    expect(history.twins("B-0417")).toEqual(found);
    expect(history.twins("B-0999")).toEqual([]);
  });

  it("add() keeps every part of a recording", () => {
    expect(history.add(entry(7), { chemistry: "lead-acid", cells: 12, capacityAh: 44 })).toBe("added");
    expect(history.recordingsBy(entry(7).hash)).toEqual([entry(7)]);
    expect(history.batteries()[0]).toMatchObject({
      id: "B-0417",
      chemistry: "lead-acid",
      cells: 12,
      recordingCount: 1,
    });
  });

  it("add() of the same recording again changes nothing", () => {
    history.add(entry(1));
    const before = history.content();
    expect(history.add({ ...entry(1), battery: "B-9999", source: "renamed.csv" })).toBe("there");
    expect(history.content()).toEqual(before);
  });

  it("add() undoes all of a recording that fails half way", () => {
    const twice = entry(2);
    const broken = { ...twice, estimates: [twice.estimates[0], twice.estimates[0]] };
    const before = history.content();
    expect(() => history.add(broken)).toThrow(/UNIQUE/);
    expect(history.content()).toEqual(before);
    expect(history.add(entry(2))).toBe("added");
  });

  it("addAll() adds an export to another history once", () => {
    const content = { batteries: [], installations: [], recordings: [entry(1), entry(2), entry(3)] };
    expect(history.addAll(content)).toEqual({ added: 3, there: 0 });
    expect(history.addAll(content)).toEqual({ added: 0, there: 3 });
    expect(history.recordings("B-0417").map((line) => line.atS)).toEqual([1, 2, 3].map((n) => entry(n).atS));
  });

  it("remove() takes a recording with all that belongs to it", () => {
    history.addAll({ batteries: [], installations: [], recordings: [entry(1), entry(2)] });
    expect(history.remove([entry(1).hash, "ffff"])).toBe(1);
    expect(history.recordings().map((line) => line.hash)).toEqual([entry(2).hash]);
    expect(history.readings(["load-current"]).map((reading) => reading.hash)).toEqual([entry(2).hash]);
    expect(history.add(entry(1))).toBe("added");
  });

  it("readings() come in the order of battery and time, with what a trend needs", () => {
    history.addAll({
      batteries: [],
      installations: [],
      recordings: [entry(3), entry(1), entry(2, { battery: "B-0100" })],
    });
    const readings = history.readings(["internal-resistance"]);
    expect(readings.map((reading) => [reading.battery, reading.atS])).toEqual([
      ["B-0100", entry(2).atS],
      ["B-0417", entry(1).atS],
      ["B-0417", entry(3).atS],
    ]);
    expect(readings[0]).toMatchObject({
      value: 0.01002,
      u: 5e-4,
      afterS: 1,
      load: null,
      report: "flight-2/report.html",
    });
    expect(history.readings(["internal-resistance"], "B-0100")).toHaveLength(1);
  });

  it("install() ends what was installed there and names it; a battery that moves keeps its life", () => {
    const at = (aircraft: string, installedOn: string, battery: string) =>
      history.install({ battery, aircraft, bus: "essential", installedOn, newLife: false });
    expect(at("ICE-2", "2026-01-01", "B-0417")).toBeNull();
    expect(at("ICE-2", "2026-03-02", "B-0533")).toBe("B-0417");
    expect(at("ICE-1", "2026-03-05", "B-0533")).toBeNull();
    expect(history.installations("B-0417")).toMatchObject([{ installedOn: "2026-01-01", removedOn: "2026-03-02" }]);
    expect(history.installations("B-0533")).toMatchObject([
      { aircraft: "ICE-2", removedOn: "2026-03-05", newLife: false },
      { aircraft: "ICE-1", removedOn: null, newLife: false },
    ]);
  });

  it("retire() ends the installation, and refuses a battery it does not know", () => {
    history.install({ battery: "B-0700", aircraft: "ICE-7", bus: "", installedOn: "2026-01-01", newLife: false });
    history.retire("B-0700", "2026-05-01", "resistance at its limit");
    expect(history.installations("B-0700")[0].removedOn).toBe("2026-05-01");
    expect(history.batteries().find((battery) => battery.id === "B-0700")).toMatchObject({
      retiredOn: "2026-05-01",
      retiredBecause: "resistance at its limit",
    });
    expect(() => history.retire("B-8888", "2026-05-01", null)).toThrow(/there is no battery B-8888; it holds .*B-0700/);
  });
});

describe("history on a server", () => {
  it("openHistory() with a wrong token says so in one sentence", () => {
    expect(() => openHistory({ kind: "server", url: serverUrl, token: "wrong" }, { make: true })).toThrow(
      `${serverUrl}: the server does not let us in; set BUSDIP_STORE_TOKEN to a token of this server`,
    );
  });

  it("openHistory() of a server that is not there says so in one sentence", () => {
    expect(() => openHistory({ kind: "server", url: "http://127.0.0.1:1" }, { make: true })).toThrow(
      "http://127.0.0.1:1: the server of this history cannot be reached or does not answer as one; check the address and the network",
    );
  });
});
