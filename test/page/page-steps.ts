import { readFileSync } from "node:fs";
import axe from "axe-core";
import type { BrowserContext, BrowserContextOptions, Page } from "playwright-core";
import type { startBrowser } from "./real-browser.js";
import type { ServedPage } from "./served-page.js";

export type RunningBrowser = Awaited<ReturnType<typeof startBrowser>>;

/** A fresh browser profile of one device size. */
export async function newDevice(
  browser: RunningBrowser,
  options: BrowserContextOptions,
  faults: string[],
): Promise<BrowserContext> {
  const context = await browser.newContext({ ...options, acceptDownloads: true });
  context.setDefaultTimeout(60_000);
  context.on("weberror", (fault) => faults.push(fault.error().message));
  return context;
}

export async function openStart(context: BrowserContext, served: ServedPage): Promise<Page> {
  const page = await context.newPage();
  await page.goto(served.address);
  await page.getByRole("heading", { name: "Did this load answer?" }).waitFor();
  return page;
}

export async function choose(page: Page, button: string, path: string): Promise<void> {
  const [chooser] = await Promise.all([
    page.waitForEvent("filechooser"),
    page.getByRole("button", { name: button }).click(),
  ]);
  await chooser.setFiles(path);
}

export async function chooseAll(page: Page, log: string, profile: string, marks: string): Promise<void> {
  await choose(page, "Choose a log", log);
  await page.locator(".glance").waitFor();
  await choose(page, "Choose a profile", profile);
  await page.locator(".names li").first().waitFor();
  await choose(page, "Choose a marks file", marks);
  await page.getByText(/marked times/).waitFor();
}

export async function judge(page: Page): Promise<void> {
  await page.getByRole("button", { name: "Judge the dips" }).click();
  await page.locator("#answer").waitFor();
}

export async function savedText(page: Page, button: string): Promise<string> {
  const [download] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: button }).click(),
  ]);
  return readFileSync(await download.path(), "utf8");
}

/** What axe finds that is serious or worse. */
export async function seriousFindings(page: Page): Promise<string[]> {
  await page.evaluate(axe.source);
  const found = (await page.evaluate(
    "axe.run(document, { resultTypes: ['violations'] }).then(({ violations }) => violations.map(({ id, impact, nodes }) => ({ id, impact, where: nodes.map((node) => node.target.join(' ')).slice(0, 3) })))",
  )) as { id: string; impact: string; where: string[] }[];
  return found.filter(({ impact }) => impact === "serious" || impact === "critical").map((one) => JSON.stringify(one));
}

export async function overflows(page: Page): Promise<boolean> {
  return page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth + 1");
}
