import type { Page } from "playwright-core";
import { describe, expect, it, vi } from "vitest";
import { DRAWN_CAMERA, pageAtWork } from "./page-at-work.js";
import { seriousFindings } from "./page-steps.js";
import { PHONE } from "./real-browser.js";

vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const atWork = pageAtWork(DRAWN_CAMERA);

/** Begins a beat that films, on a clock that the test moves, and goes on to its first "on". */
async function filmToFirstOn(page: Page): Promise<void> {
  await page.clock.install();
  await page.goto(`${atWork.served.address}#switching`);
  await page.getByRole("button", { name: /^Begin:/ }).click();
  await page.getByText("Leave everything as it is").waitFor();
  const width = () => page.evaluate("document.querySelector('.beat video')?.videoWidth ?? 0");
  await expect.poll(width, { timeout: 20_000 }).toBeGreaterThan(0);
  await expect
    .poll(
      async () => {
        await page.clock.runFor(1_000);
        return page.locator(".now.on").count();
      },
      { timeout: 40_000 },
    )
    .toBe(1);
}

describe("a beat that films", () => {
  it("goes on to the dial with its film and its marks; nothing beside it can be hit meanwhile", async () => {
    const context = await atWork.device({ ...PHONE, permissions: ["camera", "microphone"] });
    const page = await context.newPage();
    await filmToFirstOn(page);
    expect(await page.getByRole("navigation").isVisible()).toBe(false);
    expect(await seriousFindings(page)).toEqual([]);
    await page.getByRole("button", { name: "Stop here" }).click();
    await page.getByRole("heading", { name: "The dial" }).waitFor();
    await page.locator(".dial .whole").waitFor();
    await context.close();
  });

  it("keeps the film and what was switched where a way back is taken by mistake", async () => {
    const context = await atWork.device({ ...PHONE, permissions: ["camera", "microphone"] });
    const page = await context.newPage();
    await page.goto(atWork.served.address);
    await page.getByRole("heading", { level: 1 }).waitFor();
    await filmToFirstOn(page);
    await page.goBack();
    await page.getByRole("heading", { name: "Did this load answer?" }).waitFor();
    await page.getByRole("link", { name: "Recording" }).click();
    await page.getByText("The clip has not been read yet.").waitFor();
    await page.getByRole("link", { name: "To the dial" }).click();
    await page.locator(".dial .whole").waitFor();
    await context.close();
  });

  it("says so where the camera may not be used, and goes on without it", async () => {
    const context = await atWork.device(PHONE);
    await context.addInitScript(
      "if (navigator.mediaDevices) navigator.mediaDevices.getUserMedia = async () => { throw new DOMException('no', 'NotAllowedError'); };",
    );
    const page = await context.newPage();
    await page.clock.install();
    await page.goto(`${atWork.served.address}#switching`);
    await page.getByRole("button", { name: /^Begin:/ }).click();
    await page.getByText("The camera may not be used").waitFor();
    await page.getByRole("button", { name: /^Begin:/ }).click();
    await page.getByText("Leave everything as it is").waitFor();
    await page.clock.runFor(31_000);
    await page.locator(".now.on").waitFor();
    await page.getByRole("button", { name: "Stop here" }).click();
    await page.getByText("The times of 2 switchings are kept.").waitFor();
    await context.close();
  });

  it("threw nothing on the way", () => {
    expect(atWork.faults).toEqual([]);
  });
});
