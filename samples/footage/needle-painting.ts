import type { CameraMotion } from "./camera-motion.js";
import { plateReach } from "./dial-drawing.js";
import type { DialStyle } from "./dial-style.js";
import { type FilmFaults, USUAL_SHADOW } from "./film-faults.js";
import type { FootagePlan } from "./footage-plan.js";

interface NeedleSetup {
  readonly plan: FootagePlan;
  readonly faults: FilmFaults;
  readonly style: DialStyle;
  readonly camera: CameraMotion;
}

/** Lays needle and shadows over what the dial shows at a place of its plane. */
export function needlePainter(
  { style, plan, faults, camera }: NeedleSetup,
  momentS: number,
  blurPx: number,
  cos: number,
  sin: number,
): (value: number, x: number, y: number) => number {
  const radius = plan.radiusPx;
  const aside = faults.aside?.(momentS) ?? { x: 0, y: 0 };
  const parallaxX = plan.camera.parallax * camera.shakeX(momentS) + radius * aside.x;
  const parallaxY = plan.camera.parallax * camera.shakeY(momentS) + radius * aside.y;
  const shadows = faults.shadows?.(momentS) ?? [USUAL_SHADOW];
  const soft = 0.6 + 0.8 * blurPx;
  const plate = style.cover === "plate" ? plateReach(radius) : 0;
  const plateHalf = 0.96 * radius;
  const capSquare = (0.09 * radius) ** 2;
  const cap = 0.5 * style.needle + 0.5 * style.panel;
  return (value, x, y) => {
    if (plate > 0 ? y > -plate && y < plate && Math.abs(x) < plateHalf : x * x + y * y < capSquare)
      return plate > 0 ? value : cap;
    let shaded = value;
    for (const { x: besideX, y: besideY, darkness, soft: spread } of shadows) {
      const shadowSoft = 2.5 + blurPx + spread * radius;
      const shadow = needleCover(style, radius, cos, sin, x - besideX * radius, y - besideY * radius, shadowSoft);
      shaded *= 1 - darkness * shadow;
    }
    const cover = needleCover(style, radius, cos, sin, x - parallaxX, y - parallaxY, soft);
    return shaded + cover * (style.needle - shaded);
  };
}

/** Share of a pixel that the needle covers; its edge is `soft` pixels wide to either side. */
function needleCover(
  style: DialStyle,
  radius: number,
  cos: number,
  sin: number,
  x: number,
  y: number,
  soft: number,
): number {
  const along = cos * x + sin * y;
  const reach = style.needleReach * radius;
  const tail = -style.needleTail * radius;
  if (along > reach + soft || along < tail - soft) return 0;
  const across = Math.abs(cos * y - sin * x);
  const taper = style.needleShape === "hand" ? 1.5 - 1.2 * Math.max(0, along / reach) : 1;
  const inside = style.needleHalfWidth * radius * taper - across;
  if (inside < -soft) return 0;
  const edge = Math.min(inside, reach - along, along - tail) / soft;
  if (edge >= 1) return 1;
  if (edge <= -1) return 0;
  const share = 0.5 * (edge + 1);
  return share * share * (3 - 2 * share);
}
