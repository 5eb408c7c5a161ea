import { fileURLToPath } from "node:url";
import { describe, expect, it, vi } from "vitest";
import { dialFrame } from "../../src/page/dial-frame.js";
import { dialProblem, isFarBeyond, voltsAt } from "../../src/page/dial-volts.js";
import { foundMarks } from "../../src/page/first-dial.js";
import { pageAtWork } from "./page-at-work.js";
import { choose } from "./page-steps.js";
import { PHONE } from "./real-browser.js";

const DRAWN_CLIP = fileURLToPath(new URL("drawn-dial.webm", import.meta.url));

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

/** Marks from 0 V on, each so many degrees further clockwise, seen on a circle of 200 pixels. */
function scale(fromDeg: number, stepDeg: number, volts: readonly number[]) {
  const pivot = { x: 600, y: 400 };
  const marks = volts.map((one, i) => {
    const angle = ((fromDeg + stepDeg * i) * Math.PI) / 180;
    return { x: pivot.x + 200 * Math.cos(angle), y: pivot.y + 200 * Math.sin(angle), volts: one };
  });
  return { pivot, marks };
}
const rad = (deg: number): number => (deg * Math.PI) / 180;

describe("the dial as the page takes it", () => {
  it("takes so many marks from a found scale of three quarters of a round that it is read the right way round", () => {
    const pivot = { x: 600, y: 400 };
    const found = (fromDeg: number, toDeg: number) =>
      foundMarks(pivot, [
        { volts: 30, angleRad: rad(toDeg), radiusPx: 200 },
        { volts: 0, angleRad: rad(fromDeg), radiusPx: 200 },
      ]);
    // 270 degrees from 135 on, 0 to 30 V: 90 degrees for 10 V. The top, 270 degrees, is 15 V, and the right, 360, 25 V.
    const marks = found(135, 405);
    expect(marks.map(({ volts }) => volts)).toEqual([0, 10, 20, 30]);
    expect(marks[1]!.x).toBeCloseTo(600 - 200 * Math.SQRT1_2, 9);
    expect(marks[1]!.y).toBeCloseTo(400 - 200 * Math.SQRT1_2, 9);
    expect(dialProblem({ pivot, marks })).toBeNull();
    expect(voltsAt({ pivot, marks }, rad(270))).toBeCloseTo(15, 9);
    expect(voltsAt({ pivot, marks }, rad(0))).toBeCloseTo(25, 9);
    // The same the other way round.
    const reverse = found(405, 135);
    expect(dialProblem({ pivot, marks: reverse })).toBeNull();
    expect(voltsAt({ pivot, marks: reverse }, rad(270))).toBeCloseTo(15, 9);
    expect(voltsAt({ pivot, marks: reverse }, rad(0))).toBeCloseTo(5, 9);
    // Two are enough for a quarter of a round, and one tells no scale.
    expect(found(225, 315).map(({ volts }) => volts)).toEqual([0, 30]);
    expect(foundMarks(pivot, [{ volts: 0, angleRad: 1, radiusPx: 200 }])).toEqual([]);
  });

  it("says where a needle stands far beyond the marks", () => {
    const { marks } = scale(225, 90, [0, 30]);
    expect([-4, 0, 24, 34].map((volts) => isFarBeyond({ marks }, volts))).toEqual([false, false, false, false]);
    expect([-5, 35, 123].map((volts) => isFarBeyond({ marks }, volts))).toEqual([true, true, true]);
  });

  it("shows the whole of the dial, also what lies beyond marks on one side of it", () => {
    const still = { timeS: 1, width: 1280, height: 800 };
    // Two marks far to the left: the scale goes on to the right as far, and over the top.
    const { x, y, width } = dialFrame({ still, ...scale(190, 20, [0, 5]) });
    const right = 600 + 200 * Math.cos(rad(10));
    expect(x + width).toBeGreaterThan(right + 40);
    expect(y).toBeLessThan(400 - 200 - 40);
  });
});

describe("reading that is cancelled", () => {
  const atWork = pageAtWork();

  it("stays cancelled where a report of progress was under way", async () => {
    const context = await atWork.device(PHONE);
    await context.addInitScript(
      `globalThis.threads = [];
      globalThis.Worker = class extends Worker {
        constructor(...words) {
          super(...words);
          threads.push(this);
        }
      };`,
    );
    const page = await atWork.startPage(context);
    await choose(page, "Choose a clip", DRAWN_CLIP);
    await page.locator(".shows").getByText("The needle shows").waitFor();
    await page.getByRole("button", { name: "Read the clip" }).click();
    await page.getByRole("button", { name: "Cancel" }).waitFor();
    // In one task, as where the report waits behind the touch.
    await page.evaluate(
      `[...document.querySelectorAll("button")].find(({ textContent }) => textContent === "Cancel").click();
      const data = { kind: "progress", doneS: 1, timesS: [0.5, 1], volts: [24, 24] };
      for (const thread of threads) thread.dispatchEvent(new MessageEvent("message", { data }));`,
    );
    await page.getByRole("button", { name: "Read the clip" }).waitFor();
    await page.waitForTimeout(500);
    expect(await page.getByRole("button", { name: "Cancel" }).count()).toBe(0);
    expect(atWork.faults).toEqual([]);
    await context.close();
  });
});
