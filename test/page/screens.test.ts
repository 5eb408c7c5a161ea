import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { Page } from "playwright-core";
import { describe, expect, it, vi } from "vitest";
import { readProfile } from "../../src/importers/profile/profile.js";
import { runBusdip, samplesFolder } from "../cli/run-busdip.js";
import { pageAtWork } from "./page-at-work.js";
import { choose, chooseAll, judge, savedText } from "./page-steps.js";
import { DESK, PHONE } from "./real-browser.js";
import { servePage } from "./served-page.js";

const PROFILE = join(samplesFolder, "ice-2-probe-a.profile.yaml");
const SMALL_LOG = join(samplesFolder, "ice-2-noisy.csv");
const SMALL_MARKS = join(samplesFolder, "ice-2-noisy.marks.csv");

// A real browser beside other work takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const atWork = pageAtWork();

/** Moves on by the Tab key until the thing with focus has that name, as a person without a pointer does. */
async function tabTo(page: Page, name: RegExp): Promise<void> {
  for (let k = 0; k < 400; k++) {
    await page.keyboard.press("Tab");
    const found = await page.evaluate<string>(
      "(document.activeElement?.getAttribute('aria-label') ?? document.activeElement?.textContent ?? '').trim()",
    );
    if (name.test(found)) return;
  }
  throw new Error(`Tab never came to ${name}`);
}

describe("the page's screens", () => {
  it("shows the predicted dip of a load as its form is filled, and takes and gives the profile as YAML", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await page.goto(`${atWork.served.address}#loads`);
    await choose(page, "Choose a profile", PROFILE);
    const load = page.locator(".load");
    // A number with its uncertainty, and a bound as one.
    await load
      .getByText(
        /^Expected dip: about [\d.]+ mV .*\(standard uncertainty [\d.]+ mV\), at least [\d.]+ mV at the lowest/,
      )
      .waitFor();
    // Rated 160 W at 28 V is 4.9 ohm; at 24.4 V behind 12.5 mOhm that is 5.0 A and 62 mV, by Ohm's law.
    const first = (await load.locator(".expected").textContent())!;
    const millivolts = Number(first.match(/about ([\d.]+) mV/)![1]);
    expect(Math.abs(millivolts - 62)).toBeLessThan(4);
    await load.locator("summary").click();
    await page.getByLabel("Rated power (W)").fill("320");
    await page.getByLabel("Rated power (W)").blur();
    await expect
      .poll(async () =>
        Number(
          (await load.locator(".expected").textContent())!
            .match(/about ([\d.]+) V|about ([\d.]+) mV/)
            ?.slice(1)
            .find(Boolean),
        ),
      )
      .not.toBe(millivolts);
    const doubled = (await load.locator(".expected").textContent())!.match(/about ([\d.]+) (m?)V/)!;
    expect(Number(doubled[1]) * (doubled[2] === "m" ? 1 : 1000) - 2 * millivolts).toBeLessThan(6);
    await page.getByRole("button", { name: "Add a load" }).click();
    await page.getByLabel("Name").last().fill("Vane heat");
    await page.getByLabel("Name").last().blur();
    await page.getByLabel("Rating given as").last().selectOption("current");
    // No number is put in that nobody gave.
    expect(await page.getByLabel("Rated current (A)").inputValue()).toBe("");
    await page.getByLabel("Rated current (A)").fill("3.5");
    await page.getByLabel("Rated current (A)").blur();
    const saved = await savedText(page, "Save the profile");
    expect(readProfile(saved, "saved").loads.map(({ name }) => name)).toEqual(["Probe heat A", "Vane heat"]);
    expect(readProfile(saved, "saved").loads[0]!.rated).toMatchObject({ powerW: 320, atV: 28 });
    expect(readProfile(saved, "saved").loads[1]!.rated).toMatchObject({ currentA: 3.5 });
    const kept = join(atWork.folder, "kept.yaml");
    writeFileSync(kept, saved);
    // The command line reads what the page saved.
    expect(runBusdip(["plan", kept, "--json"]).status).toBe(0);
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByRole("button", { name: "Remove Vane heat" }).click();
    await expect.poll(() => page.locator(".load").count()).toBe(1);
    await choose(page, "Choose a profile", kept);
    await page.locator(".load").nth(1).waitFor();
    await context.close();
  });

  it("passes the report to the share sheet where the device has one", async () => {
    const context = await atWork.device(PHONE);
    await context.addInitScript(
      `globalThis.shared = [];
      navigator.canShare = () => true;
      navigator.share = async ({ files }) => {
        shared.push(...files.map(({ name, size }) => name + " " + (size > 10_000)));
      };`,
    );
    const page = await atWork.startPage(context);
    await chooseAll(page, SMALL_LOG, join(samplesFolder, "ice-2.profile.yaml"), SMALL_MARKS);
    await judge(page);
    await page.getByRole("button", { name: "Share" }).click();
    await expect.poll(() => page.evaluate("globalThis.shared")).toEqual(["ice-2-noisy-report.html true"]);
    await context.close();
  });

  it("asks how a log is to be read where the log leaves it open, and reads it so", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    const log = join(atWork.folder, "two-voltages.csv");
    const rows = Array.from({ length: 400 }, (_, i) => `${(i / 10).toFixed(1)};24.${40 + (i % 7)};27.${30 + (i % 5)}`);
    writeFileSync(log, `time_s;V1;V2\n${rows.join("\n")}\n`);
    await choose(page, "Choose a log", log);
    await page.getByText(/2 columns may hold the voltage.* say which with "Voltage column"/).waitFor();
    await page.getByLabel("Voltage column").fill("V2");
    await page.getByLabel("Voltage column").press("Enter");
    await page.getByText(/^400 readings in .*from 27\.3 V/).waitFor();
    await page.getByText("Read the log otherwise").click();
    await page.getByLabel("Voltage unit").selectOption("mV");
    await page.getByText(/from 27[\d.]* mV/).waitFor();
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByText("from 27.3 V").waitFor();
    await page.reload();
    await page.getByText("from 27.3 V").waitFor();
    await page.getByText("Read the log otherwise").click();
    await page.getByLabel("Interval (s)").fill("never");
    await page.getByLabel("Interval (s)").press("Enter");
    await page.getByText("Interval (s): 'never' does not fit; it stays as it was.").waitFor();
    await context.close();
  });

  it("takes a tapped time for as sure as a fingertip is, and shows a long recording nearer first", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    // 95 s on 358 px: ten pixels are 2.7 s, too coarse for a mark.
    await choose(page, "Choose a log", SMALL_LOG);
    const drawing = page.locator(".glance svg");
    await drawing.waitFor();
    await drawing.tap({ position: { x: 120, y: 60 } });
    await page.getByText(/Shown: [\d.]+ to [\d.]+ s/).waitFor();
    expect(await page.getByText("No times are marked").count()).toBe(1);
    await drawing.tap({ position: { x: 120, y: 60 } });
    await page.getByText("1 marked time", { exact: true }).waitFor();
    // Half a second by the nearer view's own width: 10 px of about 18 s on 358 px.
    expect(Number(await page.getByLabel("Times known within (s)").inputValue())).toBeCloseTo(0.5, 1);
    await page.getByRole("button", { name: "Whole recording" }).click();
    await page.getByLabel("Times known within (s)").fill("9");
    await page.getByLabel("Times known within (s)").press("Enter");
    await page.getByText("Give 0.01 to 5 s; it stays as it was.").waitFor();
    await context.close();
  });

  it("gives no answer to what was changed while it was judged", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await chooseAll(page, SMALL_LOG, join(samplesFolder, "ice-2.profile.yaml"), SMALL_MARKS);
    await page.getByRole("button", { name: "Judge the dips" }).click();
    await page.getByRole("button", { name: "Cancel" }).waitFor();
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByText("No times are marked").waitFor();
    await page.getByRole("button", { name: "Judge the dips" }).waitFor();
    expect(await page.getByRole("link", { name: "Answer" }).count()).toBe(0);
    await page.reload();
    await page.getByText("No times are marked").waitFor();
    expect(await page.getByRole("link", { name: "Answer" }).count()).toBe(0);
    await context.close();
  });

  it("says what a browser lacks that is too old for it", async () => {
    const context = await atWork.device(PHONE);
    await context.addInitScript("delete globalThis.DecompressionStream; delete Intl.Segmenter;");
    const page = await context.newPage();
    await page.goto(atWork.served.address);
    await page
      .getByText("This browser cannot do the job: it has no splitting of words, no unpacking of data.")
      .waitFor();
    await context.close();
  });

  it("opened to the network is entered with the code of the terminal, and shows the history then", async () => {
    const open = await servePage("--host", "0.0.0.0", "--store", join(atWork.folder, "open.db"));
    try {
      const [, code] = await open.saying(/Code for the next device: (\d{8})/);
      const context = await atWork.device(PHONE);
      const page = await context.newPage();
      await page.goto(`http://127.0.0.1:${open.port}/#history`);
      const field = page.getByLabel("Code shown in the terminal");
      await field.fill(code === "00000000" ? "11111111" : "00000000");
      await field.press("Enter");
      await page.getByText("That is not the code shown in the terminal").waitFor();
      await field.fill(code!);
      // Codes are taken half a second apart at the least.
      await expect
        .poll(
          async () => {
            if ((await field.count()) > 0) await field.press("Enter");
            return page.getByText("No recording has been added yet").count();
          },
          { timeout: 20_000 },
        )
        .toBe(1);
      await context.close();
    } finally {
      await open.stop();
    }
  });

  it("is done from start to answer with the keyboard alone", async () => {
    const context = await atWork.device(DESK);
    const page = await atWork.startPage(context);
    await tabTo(page, /^Try it with a simulated recording$/);
    await page.keyboard.press("Enter");
    await page.locator(".glance").waitFor();
    await page.getByText("36 marked times").waitFor();
    await tabTo(page, /^36 marked times$/);
    await page.keyboard.press("Enter");
    await tabTo(page, /^Mark 1 is on; change$/);
    await page.keyboard.press("Space");
    await page.getByRole("button", { name: "Mark 1 is off; change" }).waitFor();
    // The focus stays where it was, so the same key takes it back.
    await page.keyboard.press("Space");
    await page.getByRole("button", { name: "Mark 1 is on; change" }).waitFor();
    await tabTo(page, /^Judge the dips$/);
    await page.keyboard.press("Enter");
    await page.locator("#answer").waitFor();
    await tabTo(page, /^Save the report$/);
    const [download] = await Promise.all([page.waitForEvent("download"), page.keyboard.press("Enter")]);
    expect(readFileSync(await download.path(), "utf8")).toContain("busdip-record");
    await context.close();
  });

  it("follows an address that changes as the first screen is drawn", async () => {
    const context = await atWork.device(PHONE);
    await context.addInitScript(`
      new MutationObserver((_, watch) => {
        if (document.querySelector("main h1") === null) return;
        watch.disconnect();
        location.hash = "loads";
      }).observe(document, { childList: true, subtree: true });
    `);
    const page = await context.newPage();
    await page.goto(atWork.served.address);
    await page.getByRole("heading", { name: "Aircraft and loads" }).waitFor({ timeout: 20_000 });
    await context.close();
  });

  it("scrolls at once for those who want less motion", async () => {
    const motion = async (reducedMotion: "reduce" | "no-preference") => {
      const context = await atWork.device({ ...DESK, reducedMotion });
      const page = await atWork.startPage(context);
      const found = await page.evaluate("getComputedStyle(document.documentElement).scrollBehavior");
      await context.close();
      return found;
    };
    expect(await motion("no-preference")).toBe("smooth");
    expect(await motion("reduce")).toBe("auto");
  });

  it("threw nothing on the way", () => {
    expect(atWork.faults).toEqual([]);
  });
});
