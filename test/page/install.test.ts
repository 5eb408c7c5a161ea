import { readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import type { Page } from "playwright-core";
import { describe, expect, it, vi } from "vitest";
import { pageAtWork } from "./page-at-work.js";
import { PHONE } from "./real-browser.js";

const built = fileURLToPath(new URL("../../dist/page/", import.meta.url));

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const atWork = pageAtWork();

interface ManifestIcon {
  readonly src: string;
  readonly sizes: string;
  readonly type: string;
  readonly purpose: string;
}

interface DecodedIcon {
  readonly type: string;
  readonly width: number;
  readonly height: number;
  /** The least opacity of all pixels, 0 to 255. */
  readonly opacity: number;
  /** The furthest pixel from the middle that has not the colour of the corner, as a share of the width. */
  readonly reach: number;
}

/** An icon as the browser decodes it. */
function decoded(page: Page, address: string): Promise<DecodedIcon> {
  return page.evaluate(`(async () => {
    const answer = await fetch(${JSON.stringify(address)});
    const bitmap = await createImageBitmap(await answer.blob());
    const { width, height } = bitmap;
    const canvas = new OffscreenCanvas(width, height).getContext("2d");
    canvas.drawImage(bitmap, 0, 0);
    const { data } = canvas.getImageData(0, 0, width, height);
    let opacity = 255;
    let reach = 0;
    for (let i = 0; i < data.length; i += 4) {
      opacity = Math.min(opacity, data[i + 3]);
      if (Math.max(...[0, 1, 2].map((k) => Math.abs(data[i + k] - data[k]))) < 8) continue;
      const [x, y] = [(i / 4) % width, Math.floor(i / 4 / width)];
      reach = Math.max(reach, Math.hypot(x + 0.5 - width / 2, y + 0.5 - height / 2) / width);
    }
    return { type: answer.headers.get("content-type"), width, height, opacity, reach };
  })()`);
}

describe("the page as an app on a home screen", () => {
  it("has every icon that its manifest names, in the size that stands there", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    const { icons } = JSON.parse(readFileSync(join(built, "manifest.webmanifest"), "utf8")) as {
      readonly icons: readonly ManifestIcon[];
    };
    const pixels = icons.filter(({ type }) => type === "image/png");
    // What browsers ask for before they offer to install: 192 and 512 (web.dev, "Add a web app manifest").
    expect(pixels.map(({ sizes }) => sizes)).toEqual(expect.arrayContaining(["192x192", "512x512"]));
    for (const { src, sizes, purpose } of pixels) {
      const { type, width, height, opacity, reach } = await decoded(page, src);
      expect([type, `${width}x${height}`], src).toEqual(["image/png", sizes]);
      if (purpose !== "maskable") continue;
      // W3C Web Application Manifest: a disc of 0.8 of the width is sure to be seen.
      expect(opacity).toBe(255);
      expect(reach).toBeGreaterThan(0.2);
      expect(reach).toBeLessThan(0.4);
    }
    const touch = await page.getAttribute("link[rel=apple-touch-icon]", "href");
    // Without a hole, which would be black there.
    expect(await decoded(page, touch!)).toMatchObject({ type: "image/png", width: 180, height: 180, opacity: 255 });
    await context.close();
  });

  it("has nothing that the browser says stands against installing it", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    await page.evaluate("navigator.serviceWorker.ready.then(() => true)");
    const tools = await context.newCDPSession(page);
    const manifest = await tools.send("Page.getAppManifest");
    expect(manifest.errors).toEqual([]);
    expect(manifest.url).toBe(`${atWork.served.address}manifest.webmanifest`);
    const { installabilityErrors } = await tools.send("Page.getInstallabilityErrors");
    // The test's own browser keeps nothing, which is the one thing that may stand against it.
    expect(installabilityErrors.filter(({ errorId }) => errorId !== "in-incognito")).toEqual([]);
    await context.close();
  });
});
