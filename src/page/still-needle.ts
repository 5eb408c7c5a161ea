import { type MeasuredNeedle, measureNeedle, radialLines } from "../importers/video/needle-line.js";
import type { GrayPlane } from "../importers/video/smooth-sampling.js";
import type { FoundNeedle } from "./clip-messages.js";
import type { DialPointing } from "./dial-pointing.js";
import { voltsAt } from "./dial-volts.js";

/** The needle that stands out most between pivot and scale; null where there is none. */
function needleOf(still: GrayPlane, { pivot, marks }: Pick<DialPointing, "pivot" | "marks">): MeasuredNeedle | null {
  const radiusPx = Math.min(...marks.map((mark) => Math.hypot(mark.x - pivot.x, mark.y - pivot.y)));
  for (const line of radialLines(still, pivot, radiusPx)) {
    const found = measureNeedle(still, pivot, line, radiusPx);
    if (found !== null) return found;
  }
  return null;
}

/** The needle in a still with the volts that the marks give it, or the reason why there is none. */
export function needleInStill(
  still: GrayPlane,
  dial: DialPointing,
): { readonly needle: FoundNeedle | null; readonly why: string | null } {
  const found = needleOf(still, dial);
  if (found === null) {
    return {
      needle: null,
      why: "No needle is seen from this pivot to the scale; move the pivot, or choose another still.",
    };
  }
  const { angleRad, innerPx, outerPx } = found.needle;
  const at = (reachPx: number) => ({
    x: found.pivot.x + reachPx * Math.cos(angleRad),
    y: found.pivot.y + reachPx * Math.sin(angleRad),
  });
  const volts = voltsAt({ ...dial, pivot: found.pivot }, angleRad);
  return { needle: { from: at(innerPx), to: at(outerPx), volts }, why: null };
}
