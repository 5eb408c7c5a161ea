import { join } from "node:path";
import type { BrowserContext, BrowserContextOptions, Page } from "playwright-core";
import { afterAll, beforeAll } from "vitest";
import { emptyFolder, startBrowser } from "./real-browser.js";
import { type ServedPage, servePage } from "./served-page.js";

/** A camera that the browser draws itself: a test picture, no dial. */
export const DRAWN_CAMERA = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"];

export interface PageAtWork {
  /** The served page; from the first test on. */
  readonly served: ServedPage;
  /** An empty folder that goes when the tests have ended; the page keeps its history there. */
  readonly folder: string;
  /** Every error that a page of a `device` met. */
  readonly faults: string[];
  /** A fresh browser profile of one device size. */
  device(options: BrowserContextOptions): Promise<BrowserContext>;
  /** A page at its start screen. */
  startPage(context: BrowserContext): Promise<Page>;
}

/** One browser and one served page for all tests of a file, or of a `describe`, that calls it at its head. */
export function pageAtWork(browserFlags: readonly string[] = []): PageAtWork {
  let browser: Awaited<ReturnType<typeof startBrowser>>;
  let served: ServedPage;
  const folder = emptyFolder();
  const faults: string[] = [];

  beforeAll(async () => {
    const store = join(folder.path, "history.db");
    [browser, served] = await Promise.all([startBrowser(browserFlags), servePage("--store", store)]);
  }, 120_000);
  afterAll(async () => {
    await browser?.close();
    await served?.stop();
    folder.remove();
  }, 120_000);

  return {
    get served() {
      return served;
    },
    folder: folder.path,
    faults,
    async device(options) {
      const context = await browser.newContext({ ...options, acceptDownloads: true });
      context.setDefaultTimeout(60_000);
      context.on("weberror", (fault) => faults.push(fault.error().message));
      return context;
    },
    async startPage(context) {
      const page = await context.newPage();
      await page.goto(served.address);
      await page.getByRole("heading", { name: "Did this load answer?" }).waitFor();
      return page;
    },
  };
}
