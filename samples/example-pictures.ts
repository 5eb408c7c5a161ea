import { execFileSync } from "node:child_process";
import { join } from "node:path";
import { type Browser, chromium } from "playwright-core";
import { servePage } from "../test/page/served-page.js";

/**
 * Takes the pictures of README from the running program into a folder that holds `report.html` and `report.pdf`.
 *
 * Needs a Chromium, poppler (`pdftoppm`) and ImageMagick (`convert`, which leaves each picture 64 colours).
 */
export async function takePictures(folder: string, trendPage: string): Promise<void> {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--hide-scrollbars"],
  });
  try {
    await ofPage(browser, join(folder, "report.html"), { width: 1100, height: 1960 }, join(folder, "report.png"));
    await ofPage(browser, trendPage, { width: 1000, height: 1330 }, join(folder, "trend.png"));
    await ofPhone(browser, join(folder, "phone.png"));
  } finally {
    await browser.close();
  }
  const paper = ["-r", "75", "-f", "1", "-l", "1", "-singlefile", "-png"];
  execFileSync("pdftoppm", [...paper, join(folder, "report.pdf"), join(folder, "paper")]);
  for (const name of ["report", "trend", "phone", "paper"]) {
    const file = join(folder, `${name}.png`);
    execFileSync("convert", [file, "+dither", "-colors", "64", "-strip", `PNG8:${file}`]);
  }
}

async function ofPage(
  browser: Browser,
  file: string,
  viewport: { readonly width: number; readonly height: number },
  picture: string,
): Promise<void> {
  const page = await browser.newPage({ viewport, colorScheme: "light" });
  await page.goto(`file://${file}`);
  await page.locator("figure.drawn").first().waitFor();
  await page.waitForTimeout(1500);
  await page.screenshot({ path: picture });
  await page.close();
}

/** The answer to the simulated recording, on the page as a phone shows it. */
async function ofPhone(browser: Browser, picture: string): Promise<void> {
  const served = await servePage();
  try {
    const page = await browser.newPage({ viewport: { width: 390, height: 980 }, colorScheme: "light", hasTouch: true });
    await page.goto(served.address);
    await page.getByRole("button", { name: "Try it with a simulated recording" }).click();
    await page.getByText("36 marked times").waitFor();
    await page.getByRole("button", { name: "Judge the dips" }).click();
    await page.locator("#answer").waitFor({ timeout: 60_000 });
    await page.screenshot({ path: picture });
    await page.close();
  } finally {
    await served.stop();
  }
}
