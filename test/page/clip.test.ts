import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import type { Page } from "playwright-core";
import { describe, expect, it, vi } from "vitest";
import { formatDial, parseDial } from "../../src/importers/video/dial.js";
import { runBusdip, samplesFolder } from "../cli/run-busdip.js";
import { DRAWN_DIAL, drawnVolts, markPlace } from "./drawn-clip.js";
import { pageAtWork } from "./page-at-work.js";
import { choose, judge, savedText, seriousFindings } from "./page-steps.js";
import { PHONE } from "./real-browser.js";

const DRAWN_CLIP = fileURLToPath(new URL("drawn-dial.webm", import.meta.url));
const PANEL_CLIP = join(samplesFolder, "ice-2-panel.mp4");
const PANEL_DIAL = join(samplesFolder, "ice-2-panel.dial.yaml");
const PROFILE = join(samplesFolder, "ice-2-probe-a.profile.yaml");

// A real browser beside other work takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const atWork = pageAtWork();

async function showWholePicture(page: Page): Promise<void> {
  const whole = page.getByRole("button", { name: "Show the whole picture" });
  if ((await whole.count()) > 0) await whole.click();
}

/** Chooses a clip and a dial file, and reads it. */
async function readWithDialFile(page: Page, clip: string, dial: string): Promise<void> {
  await choose(page, "Choose a clip", clip);
  await page.locator(".dial .whole").waitFor();
  await choose(page, "Choose a dial file", dial);
  const marks = parseDial(readFileSync(dial, "utf8"), dial).marks.length;
  await page.getByLabel(`Mark ${marks} (V)`).waitFor();
  await page
    .locator(".shows")
    .getByText(/The needle shows/)
    .waitFor();
  await page.getByRole("button", { name: "Read the clip" }).click();
  await page.locator(".glance figcaption").waitFor({ timeout: 180_000 });
}

/** Times, volts and uncertainties of a CSV of readings. */
function readingsOf(csv: string): readonly (readonly number[])[] {
  return csv
    .split("\n")
    .map((line) => line.split(",").map(Number))
    .filter((row) => row.length === 4 && row.every(Number.isFinite));
}

/** Volts that one degree of needle is worth about a voltage, from the marks that a person set. */
function voltsPerDegree(dialPath: string, about: number): number {
  const { pivot, marks } = parseDial(readFileSync(dialPath, "utf8"), dialPath);
  const near = [...marks].sort((a, b) => Math.abs(a.volts - about) - Math.abs(b.volts - about)).slice(0, 2);
  const [a, b] = near.map(({ x, y }) => (Math.atan2(y - pivot!.y, x - pivot!.x) * 180) / Math.PI);
  return Math.abs((near[1]!.volts - near[0]!.volts) / (b! - a!));
}

describe("a clip in the page", () => {
  it("reads a clip whose dial is corrected by finger and keys, and judges it", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await choose(page, "Choose a clip", DRAWN_CLIP);
    const board = page.locator(".dial .whole");
    await board.waitFor();
    await showWholePicture(page);
    const box = (await board.boundingBox())!;
    const perPixel = box.width / DRAWN_DIAL.width;
    // Screen readers hear where the pivot was found.
    await expect
      .poll(() => page.getByRole("button", { name: /^Pivot, at/ }).getAttribute("aria-label"), { timeout: 10_000 })
      .toMatch(/at 3[12]\d, 3[34]\d;/);
    const drag = async (handle: RegExp, to: { readonly x: number; readonly y: number }): Promise<void> => {
      const from = (await page.getByRole("button", { name: handle }).locator(".ring").boundingBox())!;
      await page.mouse.move(from.x + from.width / 2, from.y + from.height / 2);
      await page.mouse.down();
      await page.mouse.move(box.x + to.x * perPixel, box.y + to.y * perPixel, { steps: 3 });
      await page.mouse.up();
    };
    await drag(/^Mark 1/, markPlace(0));
    const shows = page.locator(".shows");
    await shows.getByText(/The needle shows/).waitFor();
    const last = await page.getByLabel(/^Mark \d \(V\)/).count();
    const lastMark = new RegExp(`^Mark ${last},`);
    await drag(lastMark, markPlace(25));
    await shows.getByText(/shows (2[789]|3\d)[. ]/).waitFor();
    await drag(lastMark, markPlace(30));
    // The reading follows while the mark is dragged, and ends where it should.
    const volts = async () => Number((await shows.textContent())!.match(/shows ([\d.]+)/)?.[1]);
    await expect.poll(async () => Math.abs((await volts()) - drawnVolts(1)), { timeout: 10_000 }).toBeLessThan(0.3);
    const mark = page.getByRole("button", { name: lastMark });
    await mark.focus();
    // The drag may not be drawn yet: the label counts once it stays.
    let label = "";
    const stays = async () => {
      const before = label;
      label = (await mark.getAttribute("aria-label"))!;
      return label === before;
    };
    await expect.poll(stays, { interval: 200, timeout: 10_000 }).toBe(true);
    // Four steps in one task, as keys that repeat faster than the page draws.
    await page.evaluate(`for (const [key, shiftKey] of [["ArrowLeft"], ["ArrowLeft"], ["ArrowDown", true], ["ArrowRight"]])
      document.activeElement.dispatchEvent(
        new KeyboardEvent("keydown", { key, shiftKey: shiftKey === true, bubbles: true, cancelable: true }),
      )`);
    const [, x, y] = label.match(/at (\d+), (\d+);/)!;
    const stepped = `at ${Number(x) - 1}, ${Number(y) + 10};`;
    await expect.poll(() => mark.getAttribute("aria-label"), { timeout: 10_000 }).toContain(stepped);
    await mark.press("Shift+ArrowUp");
    await mark.press("ArrowRight");
    await expect.poll(() => mark.getAttribute("aria-label"), { timeout: 10_000 }).toBe(label);
    await page.getByLabel(`Mark ${last} (V)`).fill("40");
    await page.getByLabel(`Mark ${last} (V)`).blur();
    await shows.getByText(/shows 3\d[. ]/).waitFor();
    await page.getByRole("button", { name: "Undo" }).click();
    await shows.getByText(/shows 24[. ]/).waitFor();
    expect(await seriousFindings(page)).toEqual([]);
    await page.reload();
    await shows.getByText(/shows 24[. ]/).waitFor();
    await page.getByRole("button", { name: "Read the clip" }).click();
    await page.getByRole("button", { name: "Cancel" }).click();
    await page.getByRole("button", { name: "Read the clip" }).click();
    await page.locator(".glance figcaption").waitFor();
    await choose(page, "Choose a profile", PROFILE);
    const marks = join(atWork.folder, "clip-marks.csv");
    writeFileSync(marks, drawnMarks());
    await choose(page, "Choose a marks file", marks);
    await page.getByText("marked times").waitFor();
    await judge(page);
    expect(await page.locator(".headline").textContent()).toBe("Probe heat A responded.");
    const rows = readingsOf(await savedText(page, "Readings (CSV)"));
    expect(rows.length).toBeGreaterThan(0.97 * DRAWN_DIAL.rate * DRAWN_DIAL.durationS);
    const means = rows.reduce((sum, [timeS, volt]) => sum + volt! - drawnVolts(timeS!), 0) / rows.length;
    const spread = Math.sqrt(
      rows.reduce((sum, [timeS, volt]) => sum + (volt! - drawnVolts(timeS!) - means) ** 2, 0) / rows.length,
    );
    // 0.02 degree of needle is 5 mV on this scale; a drawn needle in a coarse film is read to a tenth of a degree.
    expect(spread).toBeLessThan(0.025);
    await context.close();
  });

  it.for([
    ["VP8 in WebM, drawn", DRAWN_CLIP, 1],
    ["H.264 in MP4, with sound", PANEL_CLIP, 2],
  ] as const)("is read and judged as the command line does: %s", async ([kind, clip, number], { skip }) => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    skip(kind.startsWith("H.264") && !(await decodesH264(page)), "this build of the browser decodes no H.264");
    const dial = clip === PANEL_CLIP ? PANEL_DIAL : join(atWork.folder, "drawn.dial.yaml");
    if (clip === DRAWN_CLIP) writeFileSync(dial, drawnDialFile());
    await readWithDialFile(page, clip, dial);
    await choose(page, "Choose a profile", PROFILE);
    const marks = join(atWork.folder, `marks-${number}.csv`);
    if (clip === PANEL_CLIP) {
      // The clicks of the switch lie where the simulator put them, and are taken as the marks.
      const clicks = page.locator(".clicks li");
      expect(await clicks.allTextContents()).toEqual([
        "2.60 s on",
        "5.10 s off",
        "7.70 s on",
        "10.20 s off",
        "12.80 s on",
        "15.30 s off",
      ]);
      await page.getByLabel("Load that clicked").selectOption("probe-heat-a");
      await page.getByRole("button", { name: "Take the clicks as marks" }).click();
      writeFileSync(marks, await savedText(page, "Save the marks"));
      expect(readFileSync(marks, "utf8").trim().split("\n")).toHaveLength(7);
    } else {
      writeFileSync(marks, drawnMarks());
      await choose(page, "Choose a marks file", marks);
    }
    await page.getByText("6 marked times").waitFor();
    await judge(page);
    const shown = readingsOf(await savedText(page, "Readings (CSV)"));
    const result = JSON.parse(await savedText(page, "Result (JSON)"));
    const written = join(atWork.folder, `readings-${number}.csv`);
    expect(runBusdip(["film", clip, "--dial", dial, "--out", written])).toMatchObject({ status: 0 });
    const line = readingsOf(readFileSync(written, "utf8"));
    expect(shown.length).toBe(line.length);
    expect(shown.length).toBeGreaterThan(200);
    const limitV = 0.02 * voltsPerDegree(dial, 24.6);
    for (const [i, [timeS, volts]] of shown.entries()) {
      expect(Math.abs(timeS! - line[i]![0]!)).toBeLessThan(0.001);
      expect(Math.abs(volts! - line[i]![1]!)).toBeLessThan(limitV);
    }
    const words = ["analyze", clip, "--dial", dial, "--profile", PROFILE, "--marks", marks, "--json"];
    const judged = JSON.parse(runBusdip([...words, "--mark-uncertainty", clip === PANEL_CLIP ? "0.03" : "0.2"]).stdout);
    const verdicts = (one: typeof result) => one.loads.map(({ id, verdict }: Record<string, string>) => [id, verdict]);
    expect(verdicts(result)).toEqual(verdicts(judged));
    expect(verdicts(result)).toEqual([["probe-heat-a", "responded"]]);
    expect(result.recording.sha256).toBe(judged.recording.sha256);
    await expectFrames(page);
    await context.close();
  });

  it("asks which way the volts rise where nothing tells it, and finds the scale once it is said", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    const profile = join(atWork.folder, "way.yaml");
    writeFileSync(
      profile,
      "meter: { full_scale_V: 30, smallest_division_V: 1 }\nloads: [{ id: probe, kind: heater }]\n",
    );
    await page.getByRole("button", { name: "Aircraft and loads" }).click();
    await choose(page, "Choose a profile", profile);
    await page.getByRole("link", { name: "busdip, to the start" }).click();
    await choose(page, "Choose a clip", DRAWN_CLIP);
    const asked = page.getByText("not which way its volts rise");
    await asked.waitFor();
    expect(await seriousFindings(page)).toEqual([]);
    await page.getByLabel("Scale rises").selectOption("clockwise");
    const shows = page.locator(".shows");
    await shows.getByText(/shows 24[. ]/).waitFor();
    expect(await asked.count()).toBe(0);
    await page.getByRole("button", { name: "Undo" }).click();
    await asked.waitFor();
    // The same said where the meter is described; what the needle showed before is 5.4 V from the other end.
    await page.getByRole("link", { name: "busdip, to the start" }).click();
    await page.getByRole("button", { name: "Aircraft and loads" }).click();
    await page.getByLabel("Scale rises").selectOption("anticlockwise");
    await page.goBack();
    await page.goBack();
    await shows.getByText(/shows 5\.[2-6]/).waitFor();
    await page.getByRole("button", { name: "Read the clip" }).click();
    await page.locator(".glance figcaption").waitFor();
    await context.close();
  });

  it("takes the steps of a held key back together, and the dial as it was found after that", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await choose(page, "Choose a clip", DRAWN_CLIP);
    const pivot = page.getByRole("button", { name: /^Pivot, at/ });
    await pivot.waitFor();
    const found = await pivot.getAttribute("aria-label");
    await pivot.focus();
    for (let k = 0; k < 40; k++) await page.keyboard.press("ArrowLeft");
    await expect.poll(() => pivot.getAttribute("aria-label")).not.toBe(found);
    const count = await page.getByLabel(/^Mark \d \(V\)/).count();
    await page.getByRole("button", { name: "Add a mark" }).click();
    await page.getByLabel(`Mark ${count + 1} (V)`).waitFor();
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByLabel(`Mark ${count + 1} (V)`).waitFor({ state: "detached" });
    expect(await pivot.getAttribute("aria-label")).not.toBe(found);
    await page.getByRole("button", { name: "Undo" }).click();
    await expect.poll(() => pivot.getAttribute("aria-label")).toBe(found);
    await context.close();
  });

  it("reads a clip through a film element where the browser has no decoder for threads, each frame at its own time", async () => {
    const context = await atWork.device({ ...PHONE, serviceWorkers: "block" });
    await context.route("**/clip-worker-*.js", async (route) => {
      const answer = await route.fetch();
      await route.fulfill({ response: answer, body: `self.VideoDecoder = undefined;\n${await answer.text()}` });
    });
    const page = await atWork.startPage(context);
    const dial = join(atWork.folder, "sought.dial.yaml");
    writeFileSync(dial, drawnDialFile());
    await readWithDialFile(page, DRAWN_CLIP, dial);
    await choose(page, "Choose a profile", PROFILE);
    const marks = join(atWork.folder, "sought-marks.csv");
    writeFileSync(marks, drawnMarks());
    await choose(page, "Choose a marks file", marks);
    await page.getByText("6 marked times").waitFor();
    await judge(page);
    const rows = readingsOf(await savedText(page, "Readings (CSV)"));
    expect(rows.length).toBeGreaterThan(0.97 * DRAWN_DIAL.rate * DRAWN_DIAL.durationS);
    for (const [timeS] of rows) {
      // The film's own grid of frames; WebM tells times to a millisecond.
      expect(Math.abs(timeS! * DRAWN_DIAL.rate - Math.round(timeS! * DRAWN_DIAL.rate))).toBeLessThan(0.02);
    }
    expect(new Set(rows.map(([timeS]) => timeS)).size).toBe(rows.length);
    const offsets = rows.map(([timeS, volts]) => volts! - drawnVolts(timeS!));
    const mean = offsets.reduce((sum, one) => sum + one, 0) / offsets.length;
    // A frame taken for its neighbour would lie 0.15 V off at each switching.
    expect(Math.max(...offsets.map((one) => Math.abs(one - mean)))).toBeLessThan(0.1);
    await context.close();
  });

  it("refuses a file that is no film, and one whose film is damaged, in one sentence each", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    const none = join(atWork.folder, "no-film.mp4");
    writeFileSync(none, "time_s,voltage_V\n0,24\n");
    await choose(page, "Choose a clip", none);
    await page.getByText("no-film.mp4: this is no film that can be read").waitFor();
    const cut = join(atWork.folder, "cut.webm");
    writeFileSync(cut, readFileSync(DRAWN_CLIP).subarray(0, 400));
    await page.getByRole("link", { name: "Choose another file" }).click();
    await choose(page, "Choose a clip", cut);
    const alert = page.getByRole("alert");
    await alert.waitFor();
    expect(await alert.textContent()).not.toContain("the page's own fault");
    await context.close();
  });

  it("refuses a dial file of another picture, and says that a clip has no sound", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await choose(page, "Choose a clip", DRAWN_CLIP);
    await page.locator(".dial .whole").waitFor();
    await choose(page, "Choose a dial file", PANEL_DIAL);
    expect(await page.getByRole("alert").textContent()).toMatch(/1280 x 720 pixels, and this clip has 640 x 480/);
    const own = join(atWork.folder, "own.dial.yaml");
    writeFileSync(own, drawnDialFile());
    await choose(page, "Choose a dial file", own);
    await page
      .locator(".shows")
      .getByText(/The needle shows/)
      .waitFor();
    // The needle may have been shown before: the refusal goes when the second file has been read.
    await page.getByRole("alert").waitFor({ state: "detached" });
    expect(parseDial(await savedText(page, "Save the dial"), "saved")).toEqual(parseDial(drawnDialFile(), "own"));
    await page.getByRole("button", { name: "Read the clip" }).click();
    await page.getByText("The clip has no sound").waitFor({ timeout: 180_000 });
    await context.close();
  });

  it("threw nothing on the way", () => {
    expect(atWork.faults).toEqual([]);
  });
});

/** The answer shows the dial as read, and frames before, in and after each of the three dips. */
async function expectFrames(page: Page): Promise<void> {
  await page.getByRole("heading", { name: "What the film shows" }).scrollIntoViewIfNeeded();
  await page.getByRole("img", { name: /^The dial with the pivot/ }).waitFor();
  await page.locator(".strip img").nth(14).waitFor({ timeout: 60_000 });
  const strips = await page.locator(".strip").count();
  expect(strips).toBe(3);
  for (let i = 0; i < strips; i++) {
    const strip = page.locator(".strip").nth(i);
    const [, onS] = (await strip.locator("figcaption").textContent())!.match(/, ([\d.]+) to/)!;
    const timesS = (await strip.locator("li").allTextContents()).map(Number.parseFloat);
    expect(timesS).toHaveLength(5);
    expect(timesS[0]).toBeLessThan(Number(onS) - 0.3);
    expect(timesS.slice(2, 4).every((timeS) => timeS > Number(onS) && timeS < Number(onS) + 1)).toBe(true);
    expect(timesS).toEqual([...timesS].sort((a, b) => a - b));
  }
  expect(await seriousFindings(page)).toEqual([]);
}

function drawnDialFile(): string {
  const { width, height, pivot } = DRAWN_DIAL;
  const marks = [0, 10, 20, 30].map((volts) => ({ ...markPlace(volts), volts }));
  return formatDial({ still: { timeS: 1, width, height }, pivot, marks });
}

function drawnMarks(): string {
  const lines = DRAWN_DIAL.onTimesS.map(([onS, offS]) => `${onS},probe-heat-a,on\n${offS},probe-heat-a,off\n`);
  return `time_s,load,action\n${lines.join("")}`;
}

async function decodesH264(page: Page): Promise<boolean> {
  return page.evaluate(
    "VideoDecoder.isConfigSupported({ codec: 'avc1.640020', codedWidth: 1280, codedHeight: 720 }).then(({ supported }) => supported)",
  );
}
