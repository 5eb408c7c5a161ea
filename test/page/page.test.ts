import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import { describe, expect, it, vi } from "vitest";
import { readMarks } from "../../src/importers/profile/marks.js";
import { runBusdip, samplesFolder } from "../cli/run-busdip.js";
import { pageAtWork } from "./page-at-work.js";
import { choose, chooseAll, holds, judge, overflows, savedText, seriousFindings } from "./page-steps.js";
import { DESK, PHONE } from "./real-browser.js";

const built = fileURLToPath(new URL("../../dist/page/", import.meta.url));
const LOG = join(samplesFolder, "ice-2-ramp.csv");
const PROFILE = join(samplesFolder, "ice-2.profile.yaml");
const MARKS = join(samplesFolder, "ice-2-ramp.marks.csv");
const SMALL_LOG = join(samplesFolder, "ice-2-noisy.csv");
const SMALL_MARKS = join(samplesFolder, "ice-2-noisy.marks.csv");

// A real browser beside other work takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const atWork = pageAtWork();

/** Fields of a result that were written by another program, or in words that round a drawn number. */
const NOT_COMPARED = new Set(["seal", "generator", "inputs", "reason", "nextSteps", "moreSwitchings"]);
const SAMPLED = /criticalDepth_V|minimumDetectableDepth_V|pValue/;

/** Holds verdicts, names and choices of two results against each other; collects by how much numbers differ, relative. */
function compare(
  a: unknown,
  b: unknown,
  place: string,
  differences: { readonly sampled: number[]; readonly computed: number[] },
): void {
  if (typeof a === "number" && typeof b === "number") {
    const size = Math.max(Math.abs(a), Math.abs(b));
    const kind = SAMPLED.test(place) ? "sampled" : "computed";
    differences[kind].push(size < 1e-6 ? 0 : Math.abs(a - b) / size);
  } else if (typeof a === "object" && a !== null && typeof b === "object" && b !== null) {
    expect(Object.keys(a), place).toEqual(Object.keys(b));
    for (const [key, inner] of Object.entries(a)) {
      if (!NOT_COMPARED.has(key)) compare(inner, (b as Record<string, unknown>)[key], `${place}.${key}`, differences);
    }
  } else expect(a, place).toEqual(b);
}

describe("the page", () => {
  it("judges a log on a phone as the command line does, in less than 400 kB to begin with", async () => {
    const context = await atWork.device(PHONE);
    const fetched = new Set<string>();
    context.on("request", (request) => {
      if (request.serviceWorker() === null) fetched.add(new URL(request.url()).pathname);
    });
    const page = await atWork.startPage(context);
    const first = [...fetched].filter((path) => !path.startsWith("/api/"));
    const firstBytes = first.reduce(
      (sum, path) => sum + gzipSync(readFileSync(join(built, path === "/" ? "index.html" : path))).length,
      0,
    );
    expect(first.length).toBeGreaterThan(2);
    expect(firstBytes).toBeLessThan(400_000);
    await chooseAll(page, LOG, PROFILE, MARKS);
    expect([...fetched].some((path) => path.includes("plotly"))).toBe(false);
    await judge(page);
    expect(await page.locator(".headline").textContent()).toMatch(/^No response from Probe heat B\./);
    const result = JSON.parse(await savedText(page, "Result (JSON)"));
    const line = runBusdip([
      "analyze",
      LOG,
      "--profile",
      PROFILE,
      "--marks",
      MARKS,
      "--out",
      join(atWork.folder, "out"),
    ]);
    expect(line.status).toBe(0);
    const written = JSON.parse(readFileSync(join(atWork.folder, "out", "result.json"), "utf8"));
    const differences = { sampled: [] as number[], computed: [] as number[] };
    compare(result, written, "", differences);
    expect(differences.computed.length).toBeGreaterThan(500);
    // Another build of the engine rounds the last places of exp and log otherwise; drawn numbers then take another turn.
    expect(Math.max(...differences.computed)).toBeLessThan(1e-5);
    expect(Math.max(...differences.sampled)).toBeLessThan(0.03);
    await context.close();
  });

  it("draws its plots when they are shown, and saves a report of which the command line finds every number to hold", async () => {
    const context = await atWork.device(DESK);
    const page = await atWork.startPage(context);
    await chooseAll(page, SMALL_LOG, PROFILE, SMALL_MARKS);
    await judge(page);
    await page.locator("figure").last().scrollIntoViewIfNeeded();
    await page.locator("figure.drawn .main-svg").first().waitFor();
    const [download] = await Promise.all([
      page.waitForEvent("download"),
      page.getByRole("button", { name: "Save the report" }).click(),
    ]);
    const report = join(atWork.folder, "report.html");
    await download.saveAs(report);
    const checked = runBusdip(["verify", report]);
    expect(checked.stderr).toBe("");
    expect(checked.stdout).not.toMatch(/^ *(changed|differs|missing)/m);
    expect(checked.status).toBe(0);
    await context.close();
  });

  it("keeps the work over a reload, takes each step back, and cancels", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await chooseAll(page, SMALL_LOG, PROFILE, SMALL_MARKS);
    await page.reload();
    await page.getByText("marked times").waitFor();
    await page.getByRole("button", { name: "Judge the dips" }).click();
    await page.getByRole("button", { name: "Cancel" }).click();
    await page.getByRole("button", { name: "Judge the dips" }).waitFor();
    expect(await page.locator("#answer").count()).toBe(0);
    await judge(page);
    await page.reload();
    await page.locator("#answer .headline").waitFor();
    const undo = page.getByRole("button", { name: "Undo" });
    await undo.click();
    await page.getByText("marked times").waitFor();
    await undo.click();
    await page.getByText("No times are marked").waitFor();
    await undo.click();
    await page.getByText("No load is named yet").waitFor();
    await context.close();
  });

  it("works with no network after the first visit", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await page.evaluate("navigator.serviceWorker.ready.then(() => true)");
    await holds(page, "caches.keys().then((names) => names.length === 1)");
    await holds(page, "navigator.serviceWorker.controller !== null");
    await context.setOffline(true);
    await page.reload();
    await chooseAll(page, SMALL_LOG, PROFILE, SMALL_MARKS);
    await judge(page);
    await page.locator("figure").first().scrollIntoViewIfNeeded();
    await page.locator("figure.drawn .main-svg").first().waitFor();
    expect(await savedText(page, "Save the report")).toContain("busdip-record");
    await context.close();
  });

  it("refuses a file that is no log, and a profile with a fault, in one sentence each", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await choose(page, "Choose a log", join(samplesFolder, "..", "reports", "example", "report.png"));
    const alert = page.getByRole("alert");
    await alert.waitFor();
    expect(await alert.textContent()).toMatch(/^report\.png.*; .*\. Choose another file$/);
    expect(await page.getByRole("button", { name: "Judge the dips" }).isDisabled()).toBe(true);
    await choose(page, "Choose a profile", LOG);
    await page.locator("section[aria-labelledby=loads-h] [role=alert]").waitFor();
    expect(await page.getByText("No load is named yet").count()).toBe(1);
    await page.getByRole("link", { name: "busdip, to the start" }).click();
    await page.getByRole("button", { name: "Try it with a simulated recording" }).click();
    await page.getByText("36 marked times").waitFor();
    await context.close();
  });

  it("files an answer in the history and shows it; labels with script in them stay text", async () => {
    const context = await atWork.device(DESK);
    const page = await atWork.startPage(context);
    const hostile = `<img src=x onerror="window.broken=1">`;
    const profile = join(atWork.folder, "hostile.yaml");
    const text = readFileSync(PROFILE, "utf8").replace("name: Landing light", `name: '${hostile}'`);
    writeFileSync(profile, text.replace("id: B-0417", `id: 'B<script>window.broken=2</script>'`));
    const log = join(atWork.folder, "a<b onmouseover=window.broken=3>.csv");
    writeFileSync(log, readFileSync(SMALL_LOG));
    await chooseAll(page, log, profile, SMALL_MARKS);
    await judge(page);
    expect(await page.locator("#answer").textContent()).toContain("<img src=x");
    await page.getByRole("button", { name: "Add", exact: true }).click();
    expect(await page.locator(".done").textContent()).toContain("Added to battery B<script>");
    await page.getByRole("button", { name: "Add", exact: true }).click();
    await page.getByText("in the history already").waitFor();
    await page.getByRole("link", { name: "History" }).click();
    await page.getByText("1 recording", { exact: true }).click();
    await page.getByText(/a<b onmouseover/).waitFor();
    const [report] = await Promise.all([
      context.waitForEvent("page"),
      page.getByRole("link", { name: /Trend report/ }).click(),
    ]);
    await report.locator("h1").waitFor();
    expect(await report.evaluate("window.origin")).toBe("null");
    expect(await page.evaluate("window.broken")).toBeUndefined();
    expect(await report.evaluate("window.broken")).toBeUndefined();
    await context.close();
  });

  it("beats the switching as the plan asks, within each load's limit, and takes its own beat as the marks", async () => {
    const profile = join(atWork.folder, "beat.yaml");
    writeFileSync(
      profile,
      `battery: { resistance_mOhm: { value: 12, u: 0.5 } }
path_resistance_mOhm: { value: 0, u: 0 }
meter: { full_scale_V: 30, smallest_division_V: 0.1 }
loads:
  - { id: heat, name: Vane heat, kind: heater, accept_A: [4, 8], time_limit_s: 12, after: [lamp], caution: Hands off the vane }
  - { id: lamp, kind: resistive, accept_A: [8, 9] }
  - { id: bell, kind: resistive, shows: heard }
`,
    );
    const context = await atWork.device(PHONE);
    await context.clearPermissions();
    const page = await context.newPage();
    await page.clock.install();
    await page.goto(`${atWork.served.address}#loads`);
    await choose(page, "Choose a profile", profile);
    await page.goto(`${atWork.served.address}#switching`);
    await page.getByLabel("Film the meter at the same time").uncheck();
    // Cautions stand before the first switching; what shows by itself is not switched.
    await page.getByText("Vane heat: Hands off the vane").waitFor();
    expect(await page.getByLabel(/^bell/).isChecked()).toBe(false);
    await page.getByRole("button", { name: /^Begin: [\d. ]+(s|min)/ }).click();
    await page.getByText("Leave everything as it is").waitFor();
    await page.clock.runFor(30_100);
    await page.locator(".now.on").getByText("lamp").waitFor();
    await page.clock.runFor(200_000);
    await page.getByRole("heading", { name: "Did this load answer?" }).waitFor();
    await choose(page, "Choose a log", SMALL_LOG);
    // Times of another clock are not judged as they stand.
    await page.getByRole("button", { name: "Judge the dips" }).click();
    await page.getByText("First say, under Switchings, where the beat began").waitFor();
    await page.getByLabel("Beat began at (s)").fill("1.5");
    await page.getByRole("button", { name: "Set" }).click();
    await page.getByText("These times count from the start").waitFor({ state: "detached" });
    const given = readMarks(await savedText(page, "Save the marks"), "marks", null);
    const planned = join(atWork.folder, "planned.csv");
    runBusdip(["plan", profile, "--mark-uncertainty", "0.3", "--marks", planned]);
    const asked = readMarks(readFileSync(planned, "utf8"), "planned", null);
    expect(given.map(({ load, action }) => [load, action])).toEqual(asked.map(({ load, action }) => [load, action]));
    const [startS, plannedS] = [given[0]!.timeS, asked[0]!.timeS];
    expect(startS).toBeCloseTo(31.5, 1);
    for (const [i, { timeS }] of given.entries()) {
      expect(Math.abs(timeS - startS - (asked[i]!.timeS - plannedS))).toBeLessThanOrEqual(0.1);
    }
    const heat = given.filter(({ load }) => load === "heat");
    const onS = heat.reduce((sum, { timeS, action }) => sum + (action === "off" ? timeS : -timeS), 0);
    expect(onS).toBeLessThanOrEqual(12.1);
    expect(onS).toBeGreaterThan(5);
    await context.close();
  });

  it("keeps what was switched where a beat is broken off, and nothing where nothing was", async () => {
    const context = await atWork.device(PHONE);
    const page = await context.newPage();
    await page.clock.install();
    await page.goto(`${atWork.served.address}#switching`);
    await page.getByLabel("Film the meter at the same time").uncheck();
    const begin = page.getByRole("button", { name: /^Begin:/ });
    await begin.click();
    await page.getByRole("button", { name: "Cancel" }).click();
    await begin.click();
    await page.getByText("Leave everything as it is").waitFor();
    await page.clock.runFor(31_000);
    await page.locator(".now.on").waitFor();
    await page.getByRole("button", { name: "Stop here" }).click();
    await page.getByRole("heading", { name: "Did this load answer?" }).waitFor();
    await choose(page, "Choose a log", SMALL_LOG);
    await page.getByText("2 marked times").waitFor();
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByRole("button", { name: "Undo" }).click();
    expect(await page.getByRole("button", { name: "Undo" }).count()).toBe(0);
    await context.close();
  });

  it.each([
    ["phone, light", { ...PHONE, colorScheme: "light" }],
    ["desk, dark, less motion", { ...DESK, colorScheme: "dark", reducedMotion: "reduce" }],
    // Half the width at the same count of pixels is what a zoom of 200 % gives.
    ["desk at 200 %", { viewport: { width: 640, height: 400 }, deviceScaleFactor: 2 }],
  ] as const)(
    "has nothing that axe calls serious, and nothing that sticks out sideways: %s",
    async (_name, options) => {
      const context = await atWork.device(options);
      const page = await atWork.startPage(context);
      const findings: string[] = [];
      const look = async (screen: string): Promise<void> => {
        if (await overflows(page)) findings.push(`${screen} sticks out`);
        findings.push(...(await seriousFindings(page)).map((one) => `${screen}: ${one}`));
      };
      await look("start");
      await page.getByRole("button", { name: "Try it with a simulated recording" }).click();
      await page.locator(".glance").waitFor();
      await page.getByText("36 marked times").click();
      await look("recording");
      await judge(page);
      await look("answer");
      await page.goto(`${atWork.served.address}#loads`);
      await page.locator(".load").first().waitFor();
      await look("loads");
      await page.goto(`${atWork.served.address}#switching`);
      await page.getByText("Chance to be found").first().waitFor();
      await look("switching");
      await page.goto(`${atWork.served.address}#history`);
      await page.getByText("Report of all batteries").or(page.getByText("No recording has been added")).waitFor();
      await look("history");
      expect(findings).toEqual([]);
      await context.close();
    },
  );

  it("threw nothing on the way", () => {
    expect(atWork.faults).toEqual([]);
  });
});
