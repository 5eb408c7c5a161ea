import { describe, expect, it, vi } from "vitest";
import { DRAWN_CAMERA, pageAtWork } from "./page-at-work.js";
import { holds, judge } from "./page-steps.js";

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const atWork = pageAtWork(DRAWN_CAMERA);

describe("a beat that films, on a small screen", () => {
  it.for([
    ["a small phone", { width: 320, height: 568 }],
    ["a desk at 200 %", { width: 640, height: 400 }],
  ] as const)("shows the call, the count and the button that stops it without scrolling: %s", async ([_, viewport]) => {
    const context = await atWork.device({ viewport, permissions: ["camera", "microphone"] });
    const page = await context.newPage();
    await page.goto(`${atWork.served.address}#switching`);
    await page.getByRole("button", { name: /^Begin:/ }).click();
    await page.getByText("Leave everything as it is").waitFor();
    await holds(page, "document.querySelector('.beat video')?.videoWidth > 0");
    for (const shown of [page.locator(".now"), page.locator(".count"), page.getByRole("button", { name: "Cancel" })]) {
      const box = (await shown.boundingBox())!;
      expect(box.y).toBeGreaterThanOrEqual(0);
      expect(box.y + box.height).toBeLessThanOrEqual(viewport.height);
    }
    // The two digits stand beside each other.
    const count = (await page.locator(".count").boundingBox())!;
    expect(count.width).toBeGreaterThan(0.8 * count.height);
    await context.close();
  });
});

describe("figures on a small screen", () => {
  it("fit it as they are drawn at first, before the plotting library has come, and where it cannot be had", async () => {
    const context = await atWork.device({ viewport: { width: 360, height: 740 }, serviceWorkers: "block" });
    await context.route("**/*plotly*", (route) => route.abort());
    const page = await atWork.startPage(context);
    await page.getByRole("button", { name: "Try it with a simulated recording" }).click();
    await judge(page);
    const drawings = page.locator("figure .static");
    expect(await drawings.count()).toBeGreaterThan(2);
    await drawings.last().scrollIntoViewIfNeeded();
    for (const drawing of await drawings.all()) {
      expect(await drawing.isVisible()).toBe(true);
      expect(
        await drawing.evaluate(
          (one: { scrollWidth: number; clientWidth: number }) => one.scrollWidth <= one.clientWidth,
        ),
      ).toBe(true);
    }
    // A table may be wider; then the name of its row stays beside what is read.
    const rowName = page.locator("#verdicts tbody th").first();
    const before = (await rowName.boundingBox())!;
    const scrolledPx = await page.evaluate(
      "(() => { const table = document.querySelector('#verdicts .table'); table.scrollLeft = 1e6; return table.scrollLeft; })()",
    );
    expect(scrolledPx).toBeGreaterThan(100);
    expect((await rowName.boundingBox())!.x).toBeCloseTo(before.x, 0);
    await page.setViewportSize({ width: 1000, height: 740 });
    await holds(page, "document.querySelector('figure .static svg').getAttribute('viewBox').startsWith('0 0 736')");
    await context.close();
  });
});
