import { describe, expect, it, vi } from "vitest";
import { DRAWN_CAMERA, pageAtWork } from "./page-at-work.js";
import { holds } from "./page-steps.js";

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
