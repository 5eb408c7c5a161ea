/** Whole readings of encoded clips with something amiss: the answer is a gap, or a reading within what it states. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { projected } from "../../../../samples/footage/camera-motion.js";
import { encodeClip } from "../../../../samples/footage/clip-encoder.js";
import { angleOfVolts } from "../../../../samples/footage/dial-style.js";
import { CONDITIONS, type FootagePlan, footagePlan } from "../../../../samples/footage/footage-plan.js";
import { frameTicks, TICKS_PER_S } from "../../../../samples/footage/frame-times.js";
import { buildScene } from "../../../../samples/footage/scene.js";
import { randomSource } from "../../../../samples/simulator/random-source.js";
import { findDial, readNeedle } from "../../../../src/importers/video/needle-reading.js";
import { loadLibrary } from "../../../../src/importers/video/node/library-decoder.js";
import { openClip } from "../../../../src/importers/video/node/node-clip.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-hostile-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const [WIDTH, HEIGHT, RADIUS] = [480, 360, 120];
/** When something is amiss; the bus dips by 1 V meanwhile. */
const AMISS = { startS: 1, endS: 2.4 };
const isAmiss = (timeS: number) => timeS >= AMISS.startS && timeS < AMISS.endS;

function planOf(rotationDeg: 0 | 90 | 180 | 270, changes: Partial<FootagePlan>): FootagePlan {
  return footagePlan("calm", {
    ...{ durationS: 3.2, frameRateHz: 20, width: WIDTH, height: HEIGHT, radiusPx: RADIUS, style: "ice-2-bench" },
    camera: { ...CONDITIONS.calm.camera, rollDeg: 2.2 - rotationDeg, focusHunts: 0 },
    bus: {
      ...{ openCircuitV: 24.6, slopeVPerS: 0, needleHz: 2.2, needleDamping: 0.65 },
      dips: [{ onS: 1.3, offS: 9, depthV: 1 }],
    },
    container: { codec: "libx264", bitDepth: 8, bitsPerS: 2e6, extension: "mp4", rotationDeg },
    sound: null,
    ...changes,
  });
}

/** Where the upright picture shows a place of the coded one. */
function stoodUp({ x, y }: { x: number; y: number }, rotationDeg: 0 | 90 | 180 | 270): { x: number; y: number } {
  if (rotationDeg === 90) return { x: HEIGHT - 1 - y, y: x };
  if (rotationDeg === 180) return { x: WIDTH - 1 - x, y: HEIGHT - 1 - y };
  return rotationDeg === 270 ? { x: y, y: WIDTH - 1 - x } : { x, y };
}

/** Encodes the clip of a plan, reads it through true marks on its frame at 0.5 s, and gives readings beside the truth. */
async function readThrough(plan: FootagePlan, spoil: (luma: Uint8Array, timeS: number) => void) {
  const scene = buildScene(plan);
  const ticks = frameTicks(plan, randomSource(1));
  const path = join(folder, `${plan.name}.mp4`);
  function* frames() {
    const luma = new Uint8Array(WIDTH * HEIGHT);
    for (const tick of ticks) {
      scene.render(tick / TICKS_PER_S, luma);
      spoil(luma, tick / TICKS_PER_S);
      yield { ticks: tick, luma };
    }
  }
  await encodeClip(path, plan, frames(), null);
  const stillS = 0.5;
  const { view } = scene.truth(stillS);
  const { rotationDeg } = plan.container;
  const isTurned = rotationDeg === 90 || rotationDeg === 270;
  const marks = [0, 5, 10, 15, 20, 25, 30].map((volts) => {
    const angle = (angleOfVolts(scene.style, volts) * Math.PI) / 180;
    const place = projected(view, RADIUS * Math.cos(angle), RADIUS * Math.sin(angle));
    return { ...stoodUp(place, rotationDeg), volts };
  });
  const still = { timeS: stillS, width: isTurned ? HEIGHT : WIDTH, height: isTurned ? WIDTH : HEIGHT };
  const clip = await openClip(path);
  const found = await findDial(clip, { dial: { still, pivot: stoodUp(projected(view, 0, 0), rotationDeg), marks } });
  if (found.kind === "question") throw new Error(found.instruction);
  const reading = await readNeedle(clip, found);
  const errors = [...reading.timesS].map((timeS, at) => reading.voltagesV[at]! - scene.truth(timeS).volts);
  const middle = [...errors].sort((a, b) => a - b)[errors.length >> 1]!;
  expect(Math.abs(middle)).toBeLessThan(2.6 * reading.offsetUncertaintyV);
  const overU = errors.map((error, at) => Math.abs(error - middle) / reading.readingUncertaintiesV[at]!);
  return { timesS: [...reading.timesS], overU, frameCount: ticks.length };
}

describe.skipIf((await loadLibrary()) === null)("a clip of a phone", () => {
  it.each([0, 90, 180, 270] as const)(
    "turned by %i degrees is not read while a hand lies across the dial",
    async (deg) => {
      const plan = planOf(deg, { name: `hand-${deg}`, hidden: [{ ...AMISS, by: "hand" }] });
      const { timesS, overU, frameCount } = await readThrough(plan, () => {});
      expect(timesS.filter(isAmiss)).toEqual([]);
      expect(timesS.length).toBeGreaterThanOrEqual(frameCount - 28 - 2);
      // Of 36 readings at 95 %, seven or more lie outside with a chance of 0.2 %.
      expect(overU.filter((over) => over > 1.96).length).toBeLessThanOrEqual(6);
    },
  );

  it("is doubted while the light of a window wanders over the dial", async () => {
    const { timesS, overU, frameCount } = await readThrough(planOf(0, { name: "window" }), (luma, timeS) => {
      if (!isAmiss(timeS)) return;
      const middleX = WIDTH / 2 - 95 + 100 * (timeS - AMISS.startS);
      for (let at = 0; at < luma.length; at++) {
        const [x, y] = [(at % WIDTH) - middleX, Math.floor(at / WIDTH) - 150];
        if (Math.abs(0.87 * x + 0.5 * y) < 30 && Math.abs(0.5 * x - 0.87 * y) < 84)
          luma[at] = Math.min(235, luma[at]! + 70);
      }
    });
    expect(timesS.filter((timeS) => !isAmiss(timeS)).length).toBeGreaterThanOrEqual(frameCount - 28 - 2);
    // Of 64 readings at 95 %, nine or more lie outside with a chance of 0.8 %.
    expect(overU.filter((over) => over > 1.96).length).toBeLessThanOrEqual(8);
    expect(Math.max(...overU)).toBeLessThan(4);
  });
});
