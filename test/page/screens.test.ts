import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { BrowserContextOptions, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { readProfile } from "../../src/importers/profile/profile.js";
import { runBusdip, samplesFolder } from "../cli/run-busdip.js";
import { choose, chooseAll, judge, newDevice, openStart, type RunningBrowser, savedText } from "./page-steps.js";
import { DESK, emptyFolder, PHONE, startBrowser } from "./real-browser.js";
import { type ServedPage, servePage } from "./served-page.js";

const PROFILE = join(samplesFolder, "ice-2-probe-a.profile.yaml");
const SMALL_LOG = join(samplesFolder, "ice-2-noisy.csv");
const SMALL_MARKS = join(samplesFolder, "ice-2-noisy.marks.csv");

// A real browser beside other work takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

let browser: RunningBrowser;
let served: ServedPage;
const folder = emptyFolder();
const faults: string[] = [];

beforeAll(async () => {
  [browser, served] = await Promise.all([startBrowser(), servePage("--store", join(folder.path, "history.db"))]);
});
afterAll(async () => {
  await browser?.close();
  await served?.stop();
  folder.remove();
});

const device = (options: BrowserContextOptions) => newDevice(browser, options, faults);

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
    const context = await device(PHONE);
    const page = await openStart(context, served);
    await page.goto(`${served.address}#loads`);
    await choose(page, "Choose a profile", PROFILE);
    const load = page.locator(".load");
    await load.getByText(/Expected dip: about/).waitFor();
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
    const saved = await savedText(page, "Save the profile");
    expect(readProfile(saved, "saved").loads.map(({ name }) => name)).toEqual(["Probe heat A", "Vane heat"]);
    expect(readProfile(saved, "saved").loads[0]!.rated).toMatchObject({ powerW: 320, atV: 28 });
    const kept = join(folder.path, "kept.yaml");
    writeFileSync(kept, saved);
    // The command line reads what the page saved.
    expect(runBusdip(["plan", kept, "--json"]).status).toBe(0);
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByRole("button", { name: "Remove Vane heat" }).click();
    expect(await page.locator(".load").count()).toBe(1);
    await choose(page, "Choose a profile", kept);
    await page.locator(".load").nth(1).waitFor();
    await context.close();
  });

  it("passes the report to the share sheet where the device has one", async () => {
    const context = await device(PHONE);
    await context.addInitScript(
      `globalThis.shared = [];
      navigator.canShare = () => true;
      navigator.share = async ({ files }) => {
        shared.push(...files.map(({ name, size }) => name + " " + (size > 10_000)));
      };`,
    );
    const page = await openStart(context, served);
    await chooseAll(page, SMALL_LOG, join(samplesFolder, "ice-2.profile.yaml"), SMALL_MARKS);
    await judge(page);
    await page.getByRole("button", { name: "Share" }).click();
    await expect.poll(() => page.evaluate("globalThis.shared")).toEqual(["ice-2-noisy-report.html true"]);
    await context.close();
  });

  it("is done from start to answer with the keyboard alone", async () => {
    const context = await device(DESK);
    const page = await openStart(context, served);
    await tabTo(page, /^Try it with a simulated recording$/);
    await page.keyboard.press("Enter");
    await page.locator(".glance").waitFor();
    await page.getByText("36 marked times").waitFor();
    await tabTo(page, /^36 marked times$/);
    await page.keyboard.press("Enter");
    await tabTo(page, /^Mark 1 is on; change$/);
    await page.keyboard.press("Space");
    await page.getByRole("button", { name: "Mark 1 is off; change" }).waitFor();
    await page.keyboard.press("Space");
    await tabTo(page, /^Judge the dips$/);
    await page.keyboard.press("Enter");
    await page.locator("#answer").waitFor();
    await tabTo(page, /^Save the report$/);
    const [download] = await Promise.all([page.waitForEvent("download"), page.keyboard.press("Enter")]);
    expect(readFileSync(await download.path(), "utf8")).toContain("busdip-record");
    await context.close();
  });

  it("scrolls at once for those who want less motion", async () => {
    const motion = async (reducedMotion: "reduce" | "no-preference") => {
      const context = await device({ ...DESK, reducedMotion });
      const page = await openStart(context, served);
      const found = await page.evaluate("getComputedStyle(document.documentElement).scrollBehavior");
      await context.close();
      return found;
    };
    expect(await motion("no-preference")).toBe("smooth");
    expect(await motion("reduce")).toBe("auto");
  });

  it("threw nothing on the way", () => {
    expect(faults).toEqual([]);
  });
});
