import { evenBands } from "./band-weights.js";
import type { LumaFrame, PixelArea } from "./frame.js";
import { FramePixels } from "./frame-pixels.js";
import { fitNeedle, type NeedleFit } from "./needle-fit.js";
import { type NeedlePatch, needlePatch, type PolarGrid } from "./needle-patch.js";
import type { NeedleProfile } from "./needle-profile.js";
import { searchNeedle } from "./needle-search.js";
import { reacquire } from "./reacquisition.js";
import { type Registration, type RegistrationStart, registerFrame } from "./registration.js";
import type { RegistrationTemplate } from "./registration-template.js";
import { turnWatch } from "./turned-view.js";
import { unmoved } from "./warp.js";

/** What one frame gave: its registration and the needle's patch, or why not. */
export interface FollowedFrame {
  readonly timeS: number;
  readonly registration: Registration | null;
  readonly patch: NeedlePatch | null;
  readonly fit: NeedleFit | null;
}

/** What frames are followed with. */
export interface FollowSetup {
  readonly area: PixelArea;
  readonly template: RegistrationTemplate;
  readonly grid: PolarGrid;
  readonly profile: NeedleProfile;
  readonly startStep: number;
  /** How far the dial may have jumped between two frames that are seen, pixels. */
  readonly reachPx: number;
}

/** How far a shaking hand moves the dial between two frames, pixels. */
const QUICK_REACH_PX = 40;
const LEAST_MATCH = 0.35;
const LEAST_AGREEING = 0.45;
const LEAST_EXPLAINED = 0.55;

/** A frame whose dial was found where the reference says. */
export function isRegistered(registration: Registration | null): registration is Registration {
  return (
    registration !== null &&
    registration.match > LEAST_MATCH &&
    registration.agreeing > LEAST_AGREEING &&
    registration.gain > 0.15 &&
    registration.gain < 5
  );
}

/** Follows dial and needle from frame to frame; call the returned function with each frame in order. */
export function frameFollower(setup: FollowSetup): (frame: LumaFrame) => FollowedFrame {
  const { template, grid, profile, area } = setup;
  const still: RegistrationStart = {
    warp: unmoved(template.centreX, template.centreY),
    gain: 1,
    offset: 0,
    blur: 0,
    residual: 4,
  };
  const watchTurn = turnWatch();
  let last: RegistrationStart = still;
  let step = setup.startStep;
  let pixels: FramePixels | undefined;
  const options = { bands: evenBands(profile.bandCount), bandRadiusPx: grid.bandRadiusPx, lateral: 0 };
  // Room on both sides for the needle's own width and for one frame's movement.
  const half = profile.centreIndex + 12;

  return (frame) => {
    pixels = FramePixels.of(frame, pixels);
    const seen = { pixels, area };
    const found = registerOrFind(setup, seen, last, still);
    if (found === null) return { timeS: frame.timeS, registration: null, patch: null, fit: null };
    const registration = watchTurn(found, last, (start) => {
      const view = registerFrame(template, seen, start, { coarse: 30, fine: 20 });
      return isRegistered(view) ? view : null;
    });
    last = registration;
    const patchAt = (centre: number) =>
      needlePatch(seen, registration.warp, grid, { firstStep: Math.round(centre) - half, stepCount: 2 * half + 1 });
    let patch = patchAt(step);
    let fit = fitNeedle(patch, profile, step, options);
    if (fit === null || fit.explained < LEAST_EXPLAINED) {
      const around = (2 * Math.PI) / grid.stepRad;
      for (const place of searchNeedle(seen, registration.warp, grid, profile)) {
        const candidate = place + around * Math.round((step - place) / around);
        const there = patchAt(candidate);
        const found = fitNeedle(there, profile, candidate, options);
        if (found !== null && found.explained > Math.max(LEAST_EXPLAINED, fit?.explained ?? 0)) {
          patch = there;
          fit = found;
        }
      }
    } else if (Math.abs(fit.step - step) > 6) {
      patch = patchAt(fit.step);
      fit = fitNeedle(patch, profile, fit.step, options) ?? fit;
    }
    if (fit !== null && fit.explained >= LEAST_EXPLAINED) step = fit.step;
    else fit = null;
    return { timeS: frame.timeS, registration, patch, fit };
  };
}

/** The frame's registration from where the dial was last, or from wherever it may have jumped to. */
function registerOrFind(
  setup: FollowSetup,
  seen: { readonly pixels: FramePixels; readonly area: PixelArea },
  last: RegistrationStart,
  still: RegistrationStart,
): Registration | null {
  const near = registerFrame(setup.template, seen, last);
  if (isRegistered(near)) return near;
  // A quick hand first, then wherever the dial may have gone.
  for (const reachPx of [QUICK_REACH_PX, setup.reachPx]) {
    for (const from of last === still ? [last] : [last, still]) {
      const jump = reacquire(setup.template, seen, from, reachPx);
      const again = jump === null ? null : registerFrame(setup.template, seen, jump, { coarse: 30, fine: 20 });
      if (isRegistered(again)) return again;
    }
  }
  return null;
}
