import { join } from "node:path";
import type { BrowserContext, Page } from "playwright-core";
import { describe, expect, it, vi } from "vitest";
import { samplesFolder } from "../cli/run-busdip.js";
import { pageAtWork } from "./page-at-work.js";
import { choose, seriousFindings } from "./page-steps.js";
import { PHONE } from "./real-browser.js";

const LOG = join(samplesFolder, "ice-2-noisy.csv");
const OTHER_LOG = join(samplesFolder, "ice-2-ramp.csv");
const PROFILE = join(samplesFolder, "ice-2.profile.yaml");
const MARKS = join(samplesFolder, "ice-2-noisy.marks.csv");

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const atWork = pageAtWork();

/** A tab with a log and a profile, after whatever the context was told. */
async function tabAtWork(context: BrowserContext): Promise<Page> {
  const page = await atWork.startPage(context);
  await choose(page, "Choose a log", LOG);
  await page.locator(".glance").waitFor();
  await choose(page, "Choose a profile", PROFILE);
  await page.locator(".names li").first().waitFor();
  return page;
}

async function anotherTab(context: BrowserContext, screen = ""): Promise<Page> {
  const page = await context.newPage();
  await page.goto(`${atWork.served.address}${screen}`);
  return page;
}

const elsewhere = (page: Page) => page.getByRole("heading", { name: "Already open in another tab" });
const carryOn = (page: Page) => page.getByRole("button", { name: "Carry on here" });
const hasLog = (page: Page, path: string) => page.getByText(path.split("/").at(-1)!, { exact: true }).waitFor();

describe("two tabs of the page", () => {
  it("says so in the second, which carries on by itself once the first is closed", async () => {
    const context = await atWork.device(PHONE);
    const first = await tabAtWork(context);
    const second = await anotherTab(context, "#recording");
    await elsewhere(second).waitFor();
    expect(await second.locator("p").first().textContent()).toMatch(/^[^.]+ is open in another tab [^.]+\.$/);
    expect(await seriousFindings(second)).toEqual([]);
    // The first one does not notice.
    await choose(first, "Choose a marks file", MARKS);
    await first.getByText("marked times").waitFor();
    await first.close();
    await second.getByText("marked times").waitFor();
    await hasLog(second, LOG);
    await context.close();
  });

  it("does not take a page that is loaded again for a second one", async () => {
    const context = await atWork.device(PHONE);
    await context.addInitScript(
      `globalThis.seen = false;
      new MutationObserver(() => {
        if (document.body?.textContent.includes("Carry on here")) globalThis.seen = true;
      }).observe(document, { childList: true, subtree: true });`,
    );
    const page = await tabAtWork(context);
    for (let k = 0; k < 5; k++) {
      await page.reload();
      await hasLog(page, LOG);
      await page.waitForTimeout(700);
      expect(await page.evaluate("globalThis.seen")).toBe(false);
    }
    await context.close();
  });

  it("hands the work over and back with all that was done, and then only one tab writes", async () => {
    const context = await atWork.device(PHONE);
    const first = await tabAtWork(context);
    const second = await anotherTab(context, "#recording");
    await carryOn(second).click();
    await hasLog(second, LOG);
    await elsewhere(first).waitFor();
    await choose(second, "Choose a marks file", MARKS);
    await second.getByText("marked times").waitFor();
    await carryOn(first).click();
    await first.getByText("marked times").waitFor();
    await elsewhere(second).waitFor();
    await first.getByRole("button", { name: "Undo" }).click();
    await first.getByText("No times are marked").waitFor();
    await second.reload();
    await carryOn(second).click();
    await second.getByText("No times are marked").waitFor();
    await hasLog(second, LOG);
    await context.close();
  });

  it("does not break off a beat that runs in the other tab", async () => {
    const context = await atWork.device(PHONE);
    const first = await tabAtWork(context);
    await first.goto(`${atWork.served.address}#switching`);
    await first.getByLabel("Film the meter at the same time").uncheck();
    await first.getByRole("button", { name: /^Begin:/ }).click();
    await first.getByText("Leave everything as it is").waitFor();
    const second = await anotherTab(context, "#recording");
    await carryOn(second).click();
    expect(await second.getByRole("alert").textContent()).toMatch(/^Loads are being switched there; [^.]+\.$/);
    expect(await first.locator(".beat").isVisible()).toBe(true);
    await first.getByRole("button", { name: "Cancel" }).click();
    await first.getByRole("button", { name: /^Begin:/ }).waitFor();
    await carryOn(second).click();
    await hasLog(second, LOG);
    await context.close();
  });

  it("takes the work from a tab that does not answer, which tells it on waking", async () => {
    const context = await atWork.device(PHONE);
    // Nothing that the tab is told reaches it any more, as where the device has put it to sleep.
    await context.addInitScript(
      `const told = BroadcastChannel.prototype.addEventListener;
      BroadcastChannel.prototype.addEventListener = function (kind, hear) {
        told.call(this, kind, (event) => globalThis.asleep || hear(event));
      };`,
    );
    const first = await tabAtWork(context);
    await first.evaluate("globalThis.asleep = true");
    const second = await anotherTab(context, "#recording");
    await carryOn(second).click();
    await hasLog(second, LOG);
    await elsewhere(first).waitFor();
    await first.evaluate("globalThis.asleep = false");
    await carryOn(first).click();
    await hasLog(first, LOG);
    await context.close();
  });

  it.for([
    ["no locks, as at an address that is not secure", "delete Navigator.prototype.locks;"],
    ["no locks and no word between tabs", "delete Navigator.prototype.locks; delete globalThis.BroadcastChannel;"],
  ] as const)("lets one tab never write over another's work: %s", async ([kind, lacking]) => {
    const context = await atWork.device(PHONE);
    await context.addInitScript(lacking);
    const first = await tabAtWork(context);
    const second = await anotherTab(context, "#recording");
    const isWordless = kind.endsWith("tabs");
    if (!isWordless) await carryOn(second).click();
    await hasLog(second, LOG);
    await second.getByRole("link", { name: "busdip, to the start" }).click();
    await choose(second, "Choose a log", OTHER_LOG);
    await hasLog(second, OTHER_LOG);
    // The first one learns of it as it would write.
    if (isWordless) await first.getByRole("button", { name: "Undo" }).click();
    await elsewhere(first).waitFor();
    await second.reload();
    await hasLog(second, OTHER_LOG);
    await second.locator(".glance").waitFor();
    await context.close();
  });

  it("threw nothing on the way", () => {
    expect(atWork.faults).toEqual([]);
  });
});
