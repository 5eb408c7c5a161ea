import { describe, expect, it } from "vitest";
import { projected } from "../../../samples/footage/camera-motion.js";
import { angleOfVolts, DIAL_STYLES, type DialStyleName } from "../../../samples/footage/dial-style.js";
import { footagePlan } from "../../../samples/footage/footage-plan.js";
import { buildScene } from "../../../samples/footage/scene.js";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { FrameSource } from "../../../src/importers/video/frame.js";
import { type DialFound, findDial } from "../../../src/importers/video/needle-reading.js";
import { fittedPivot } from "../../../src/importers/video/pivot-fit.js";

const [WIDTH, HEIGHT, VOLTS] = [640, 480, 20];

/** One frame of a small dial of the samples' generator, which shares no code with the reader, and what is true of it. */
function stillOf(style: DialStyleName, markV: number) {
  const plan = footagePlan("tripod", { style, radiusPx: 170, width: WIDTH, height: HEIGHT, durationS: 1, sound: null });
  const scene = buildScene({ ...plan, bus: { ...plan.bus, openCircuitV: VOLTS, slopeVPerS: 0, dips: [] } });
  const luma = new Uint8Array(WIDTH * HEIGHT);
  scene.render(0.5, luma);
  const { view } = scene.truth(0.5);
  const dial = DIAL_STYLES[style];
  const at = (volts: number, radius: number) => {
    const angle = (angleOfVolts(dial, volts) * Math.PI) / 180;
    return projected(view, radius * Math.cos(angle), radius * Math.sin(angle));
  };
  const source: FrameSource = {
    width: WIDTH,
    height: HEIGHT,
    rotationDeg: 0,
    durationS: 1,
    frameCount: 1,
    async *frames() {
      yield { timeS: 0.5, width: WIDTH, height: HEIGHT, stride: WIDTH, luma };
    },
  };
  const [pivot, tip] = [at(0, 0), at(VOLTS, 150)];
  const needleRad = Math.atan2(tip.y - pivot.y, tip.x - pivot.x);
  const marks = Array.from({ length: 30 / markV + 1 }, (_, k) => ({ ...at(k * markV, 170), volts: k * markV }));
  return { source, pivot, needleRad, marks };
}

/** The dial found with the marks clicked a pixel off and the pivot off along the needle, and how far along it comes out. */
async function foundWith(still: ReturnType<typeof stillOf>, alongPx: number, seed: number) {
  const random = randomSource(seed);
  const { source, pivot, needleRad, marks } = still;
  const along = { x: Math.cos(needleRad), y: Math.sin(needleRad) };
  const dial = {
    still: { timeS: 0.5, width: WIDTH, height: HEIGHT },
    pivot: { x: pivot.x + alongPx * along.x + random.normal(), y: pivot.y + alongPx * along.y + random.normal() },
    marks: marks.map((mark) => ({ ...mark, x: mark.x + random.normal(), y: mark.y + random.normal() })),
  };
  const found = await findDial(source, { dial });
  if (found.kind === "question") throw new Error(found.instruction);
  return { found, errorPx: (found.pivot.x - pivot.x) * along.x + (found.pivot.y - pivot.y) * along.y };
}

describe("findDial with a pivot clicked off along the needle", () => {
  for (const style of ["ice-2-bench", "round-wide"] as const) {
    it(`moves it back by the printed strokes to within its stated uncertainty: ${style}`, async () => {
      const still = stillOf(style, 5);
      const answers: { found: DialFound; errorPx: number }[] = [];
      for (const [index, alongPx] of [-6, -3, 3, 6].entries())
        answers.push(await foundWith(still, alongPx, 50 + index));
      for (const { found, errorPx } of answers) {
        // At three standard uncertainties four right answers of each dial fail with a chance of 1 %.
        expect(Math.abs(errorPx)).toBeLessThan(3 * found.uPivotAlongPx);
        // The dip's size is wrong by about 0.5 % for each pixel on a dial as small as this.
        expect(found.uPivotAlongPx).toBeLessThan(1);
      }
    });
  }
});

describe("fittedPivot", () => {
  it("keeps the click along the needle, and its doubt, where no stroke is seen", () => {
    const plane = { width: 4, height: 4, stride: 4, values: new Uint8Array(16) };
    // By hand: along the needle (x) only the click speaks; across it two weights, 1 / 3^2 for 6 px and 1 / 0.3^2 for 0.
    const fitted = fittedPivot(plane, { x: 100, y: 50 }, 0, { x: 104, y: 56 }, []);
    expect(fitted.x).toBeCloseTo(104, 9);
    expect(fitted.y).toBeCloseTo(50 + 6 / (1 + (3 / 0.3) ** 2), 9);
    expect(fitted.uAlongPx).toBeCloseTo(3, 9);
  });
});
