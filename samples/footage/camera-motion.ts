import type { RandomSource } from "../simulator/random-source.js";
import { faceMiddle } from "./dial-drawing.js";
import type { DialStyle } from "./dial-style.js";
import type { FootagePlan } from "./footage-plan.js";
import { tabulated, type Unsteady, unsteadyMotion } from "./unsteady.js";

/** A projective map as rows of a 3 by 3 matrix. */
export type Projection = Float64Array;

/** Where the camera looks at a time, and how sharp. */
export interface CameraMotion {
  /** Writes the map from the dial's plane (pivot at the origin) to the picture. */
  view(timeS: number, into: Projection): void;
  /** Blur by the lens beyond its usual one, standard deviation in pixels. */
  readonly blurPx: Unsteady;
  readonly shakeX: Unsteady;
  readonly shakeY: Unsteady;
}

/** A hand-held camera: 1/f shake with a tremor, roll, change of scale, tilt, and hunts for focus. */
export function cameraMotion(plan: FootagePlan, style: DialStyle, random: RandomSource): CameraMotion {
  const { camera, durationS } = plan;
  const slow = (rms: number, highHz = 6) => unsteadyMotion({ rms, lowHz: 0.12, highHz }, durationS, random);
  const tremorRms = 0.04 * camera.shakeRmsPx;
  const shake = () => unsteadyMotion({ rms: camera.shakeRmsPx, lowHz: 0.12, highHz: 12, tremorRms }, durationS, random);
  const [shakeX, shakeY] = [shake(), shake()];
  const roll = slow((camera.rollRmsDeg * Math.PI) / 180);
  const scale = slow(camera.scaleRms, 2);
  const [tiltX, tiltY] = [slow(camera.tiltRms), slow(camera.tiltRms)];
  const hunts = Array.from({ length: camera.focusHunts }, (_, k) => ({
    atS: (durationS * (k + 0.3 + 0.4 * random.uniform())) / camera.focusHunts,
    lengthS: 0.8 + 0.4 * random.uniform(),
  }));
  const hunting = (timeS: number) =>
    hunts.reduce((sum, { atS, lengthS }) => {
      const share = (timeS - atS) / lengthS;
      return share > 0 && share < 1 ? sum + Math.sin(Math.PI * share) ** 2 * Math.cos(2 * Math.PI * share) : sum;
    }, 0);
  const blurPx = tabulated(durationS, (timeS) => 0.5 + 2.2 * Math.abs(hunting(timeS)));
  const breathing = tabulated(durationS, (timeS) => 0.006 * hunting(timeS));
  const aim = faceMiddle(style, plan.radiusPx);
  const fixedRoll = (camera.rollDeg * Math.PI) / 180;
  const [centreX, centreY] = [plan.width / 2, plan.height / 2];

  return {
    shakeX,
    shakeY,
    blurPx,
    view(timeS, into) {
      const zoom = 1 + scale(timeS) + breathing(timeS);
      const turn = fixedRoll + roll(timeS);
      const [cos, sin] = [zoom * Math.cos(turn), zoom * Math.sin(turn)];
      const g = (0.4 * camera.slant + tiltX(timeS)) / plan.radiusPx;
      const h = (camera.slant + tiltY(timeS)) / plan.radiusPx;
      const [moveX, moveY] = [centreX + shakeX(timeS), centreY + shakeY(timeS)];
      // Affine part about the middle of the face, then the division by 1 + g x + h y of the slanted view.
      const [c, f] = [-cos * aim.x + sin * aim.y, -sin * aim.x - cos * aim.y];
      const w = 1 - g * aim.x - h * aim.y;
      into[0] = cos + moveX * g;
      into[1] = -sin + moveX * h;
      into[2] = c + moveX * w;
      into[3] = sin + moveY * g;
      into[4] = cos + moveY * h;
      into[5] = f + moveY * w;
      into[6] = g;
      into[7] = h;
      into[8] = w;
    },
  };
}

/** A place of the dial's plane in the picture. */
export function projected(map: Projection, x: number, y: number): { x: number; y: number } {
  const w = map[6]! * x + map[7]! * y + map[8]!;
  return { x: (map[0]! * x + map[1]! * y + map[2]!) / w, y: (map[3]! * x + map[4]! * y + map[5]!) / w };
}

/** The inverse of a projective map, up to scale. */
export function inverted(map: Projection, into: Projection): void {
  const [a, b, c, d, e, f, g, h, i] = map as unknown as number[];
  into[0] = e! * i! - f! * h!;
  into[1] = c! * h! - b! * i!;
  into[2] = b! * f! - c! * e!;
  into[3] = f! * g! - d! * i!;
  into[4] = a! * i! - c! * g!;
  into[5] = c! * d! - a! * f!;
  into[6] = d! * h! - e! * g!;
  into[7] = b! * g! - a! * h!;
  into[8] = a! * e! - b! * d!;
}
