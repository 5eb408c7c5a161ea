import type { FootagePlan } from "../../../samples/footage/footage-plan.js";
import { buildScene } from "../../../samples/footage/scene.js";

/** How far apart the two pictures are whose difference is the derivative, V: half a pixel at the needle's tip. */
const STEP_V = 0.03;
/** Differences below this are rounding of the pictures, gray levels. */
const ROUNDING = 2;

/**
 * Cramér-Rao bound of one frame's reading in volts: independent noise of the plan's size on every pixel before the codec,
 * camera still and everything known but the needle's angle (sum of squared derivatives of two pictures without noise).
 */
export function readingBoundV(plan: FootagePlan): number {
  const still = { shakeRmsPx: 0, rollRmsDeg: 0, scaleRms: 0, tiltRms: 0, focusHunts: 0, readoutS: 0 };
  const shown = (volts: number) => {
    const scene = buildScene({
      ...plan,
      durationS: 1,
      camera: { ...plan.camera, ...still },
      light: { ...plan.light, noise: 0, driftShare: 0, flickerShare: 0 },
      bus: { ...plan.bus, openCircuitV: volts, slopeVPerS: 0, dips: [] },
    });
    const luma = new Uint8Array(plan.width * plan.height);
    scene.render(0.5, luma);
    return luma;
  };
  const [low, high] = [shown(24.6), shown(24.6 + STEP_V)];
  let sum = 0;
  low.forEach((value, at) => {
    const difference = high[at]! - value;
    if (Math.abs(difference) > ROUNDING) sum += (difference / STEP_V) ** 2;
  });
  return plan.light.noise / Math.sqrt(sum);
}
