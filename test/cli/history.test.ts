import { copyFileSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { folderWith, runBusdip, samplesFolder } from "./run-busdip.js";

const folder = folderWith();
afterAll(() => folder.remove());

const exportFile = join(samplesFolder, "history", "ice-2-history.json");
let stores = 0;

/** Runs the program on a history of its own. */
function onStore() {
  const store = join(folder.path, `history-${stores++}.db`);
  const env = { BUSDIP_STORE: store, SOURCE_DATE_EPOCH: "1790000000" };
  return { store, run: (...words: string[]) => runBusdip(words, { cwd: folder.path, env }) };
}

let imported = "";
beforeAll(() => {
  const first = onStore();
  first.run("history", "import", exportFile);
  imported = first.store;
});

/** A copy of the imported history. */
function onImported() {
  const place = onStore();
  copyFileSync(imported, place.store);
  return place;
}

describe("busdip history", () => {
  it("import adds the simulated flights once, and list shows the batteries", () => {
    const { run, store } = onStore();
    expect(run("history", "import", exportFile)).toMatchObject({
      status: 0,
      stdout: `${exportFile}: 39 added, 0 there already, in ${store}\n`,
    });
    expect(run("history", "import", exportFile).stdout).toContain("0 added, 39 there already");
    const { stdout } = run("history", "list");
    expect(stdout).toMatch(/B-0417 +30 +2026-03-05 to 2026-07-23 +lead-acid +removed 2026-07-27/);
    expect(stdout).toMatch(/B-0533 +9 .* in ICE-2 since 2026-07-27/);
  });

  it("export and import carry a history from one store to another, as JSON and as CSV", () => {
    const from = onImported();
    for (const name of ["all.json", "all.csv"]) {
      expect(from.run("history", "export", name).stdout).toContain(`39 recordings of ${from.store} written to ${name}`);
      const to = onStore();
      expect(to.run("history", "import", name).stdout).toContain("39 added");
      expect(JSON.parse(to.run("history", "list", "B-0417", "--json").stdout)).toHaveLength(30);
    }
  });

  it("show and remove take the first signs of a recording's hash", () => {
    const { run } = onImported();
    const [first] = JSON.parse(run("history", "list", "B-0533", "--json").stdout) as { hash: string }[];
    const shown = run("history", "show", first!.hash.slice(0, 10));
    expect(shown.stdout).toContain(first!.hash);
    expect(shown.stdout).toMatch(/internal resistance, 1 s after the step: \d+\.\d+ ± \d\.\d+ mΩ/);
    expect(run("history", "remove", first!.hash.slice(0, 10)).stdout).toMatch(/^1 removed from/);
    expect(run("history", "show", first!.hash).stderr).toBe(
      `busdip: no recording begins with ${first!.hash}; see busdip history list BATTERY\n`,
    );
  });

  it("install notes a replacement, retire ends a service", () => {
    const { run } = onImported();
    expect(
      run("history", "install", "B-0700", "--aircraft", "ICE-2", "--bus", "essential", "--on", "2026-10-01").stdout,
    ).toBe("battery B-0700 installed in ICE-2 on 2026-10-01 instead of B-0533\n");
    expect(run("history", "retire", "B-0417", "--on", "2026-10-02", "--because", "capacity").status).toBe(0);
    expect(run("history", "list").stdout).toMatch(/B-0417 .*retired 2026-10-02/);
  });

  it("analyze --store adds the result in the same step, once, under the battery of the profile", () => {
    const { run } = onStore();
    const sample = (name: string) => join(samplesFolder, name);
    const words = [
      "analyze",
      sample("ice-2-ramp.csv"),
      "--profile",
      sample("ice-2.profile.yaml"),
      "--marks",
      sample("ice-2-ramp.marks.csv"),
      "--store",
    ];
    expect(run(...words)).toMatchObject({
      status: 2,
      stderr:
        "busdip: the history needs to know when it was; give the date as --date 2026-03-02 or --date 2026-03-02T10:30:00Z\n",
    });
    expect(run(...words, "--date", "2026-03-02").stdout).toMatch(
      /Added to battery B-0417 in .*; see busdip trend B-0417\./,
    );
    expect(JSON.parse(run("history", "list", "B-0417", "--json").stdout)).toHaveLength(1);
  });

  it("add refuses what is no result, in one sentence", () => {
    const { run } = onStore();
    writeFileSync(join(folder.path, "letter.json"), '{"dear":"pilot"}');
    expect(run("history", "add", "letter.json", "--date", "2026-03-02", "--battery", "B-1")).toMatchObject({
      status: 2,
      stderr:
        'busdip: letter.json: expected "schema": "busdip-result/1", found no schema; give a result.json that this version of busdip can read\n',
    });
    expect(run("history", "list").stderr).toMatch(/there is no history yet/);
  });
});

describe("busdip trend", () => {
  it("trend of the ageing battery says alarm, why, since when, and when the limit was reached", () => {
    const { run } = onImported();
    const { status, stdout } = run("trend", "B-0417");
    expect(status).toBe(0);
    expect(stdout).toContain("Battery B-0417, ICE-2, installed 2026-03-02: 30 flights");
    expect(stdout.replace(/\s+/g, " ")).toMatch(
      /passed its control limit of 10\.\d mΩ with the flight of 2026-07-\d\d/,
    );
    expect(stdout.replace(/\s+/g, " ")).toMatch(
      /The flight of 2026-06-30 stands apart with 17\.1 ± 2\.\d mΩ: a loose terminal/,
    );
    expect(stdout).toContain("2 flights: temperature or charge unknown");
    expect(stdout).toContain("Advisory only");
    expect(run("trend", "B-0417", "--strict").status).toBe(1);
  });

  it("trend of all batteries puts the ageing one first and the new one as too early", () => {
    const { run } = onImported();
    const { batteries } = JSON.parse(run("trend", "--json").stdout) as {
      batteries: { battery: string; concern: number; series: { status: string }[] }[];
    };
    expect(batteries.map((battery) => battery.battery)).toEqual(["B-0417", "B-0533"]);
    expect(batteries[0]!.concern).toBe(4);
    expect(batteries[1]!.series[0]!.status).toBe("gathering");
  });

  it("trend --out writes a page that fetches nothing, with the flights and their values", () => {
    const { run } = onImported();
    expect(run("trend", "B-0417", "--out", "page").status).toBe(0);
    const html = readFileSync(join(folder.path, "page", "trend.html"), "utf8");
    // The page is several megabytes long: say what is missing, not what is there.
    const own = html.slice(0, html.indexOf('<script type="application/json" id="busdip-trend">'));
    expect(own).toContain("default-src &#39;none&#39;");
    expect(own).toContain("<title>Battery B-0417: trend record</title>");
    expect(own.match(/<tr><th scope="row">\d+<\/th>/g)!.length).toBeGreaterThan(100);
    expect(own).not.toMatch(/(?:src|href)="(?!#)[^"]*\/\//);
    expect(JSON.parse(readFileSync(join(folder.path, "page", "trend.json"), "utf8"))).toMatchObject({
      schema: "busdip-trend/1",
      batteries: [{ battery: "B-0417", flights: 30 }],
    });
  });

  it("trend of a battery that is not there names those that are", () => {
    const { run, store } = onImported();
    expect(run("trend", "B-1")).toMatchObject({
      status: 2,
      stderr: `busdip: ${store}: there is no battery B-1; it holds B-0417, B-0533\n`,
    });
  });

  it("trend in an ASCII terminal prints ASCII only", () => {
    const { store } = onImported();
    const { stdout } = runBusdip(["trend", "B-0417"], { env: { BUSDIP_STORE: store, LANG: "C", LC_ALL: "C" } });
    expect(stdout).toMatch(/^[\x20-\x7e\n]+$/);
    expect(stdout).toContain("+/-");
  });
});
