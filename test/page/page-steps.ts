import { readFileSync } from "node:fs";
import axe from "axe-core";
import type { Page } from "playwright-core";
import { expect } from "vitest";

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

/** Waits until a condition, an expression of the page, holds. The page's own rule against evaluated text forbids the library's way. */
export async function holds(page: Page, condition: string): Promise<void> {
  await expect.poll(() => page.evaluate(condition), { timeout: 20_000 }).toBe(true);
}
