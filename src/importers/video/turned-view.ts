import type { Registration, RegistrationStart } from "./registration.js";
import type { Warp } from "./warp.js";

/** Turns from which a view is sought again, degrees to either side: about a stroke of a scale of 30 over 90 degrees. */
const TURN_STEP_DEG = 3;
const TURN_COUNT = 7;
/**
 * The loss of match is out of the ordinary above so many times the usual one and a little. A stroke off, a rendered dial lost
 * 0.11 instead of 0.04 (a script that is not kept).
 */
const LOSS_RATIO = 1.7;
const LOSS_MORE = 0.02;
/** Another view must lose so much less to be taken. */
const CLEARLY_LESS = 0.6;
/** Part of the usual loss that the newest frame makes; frames that tell what is usual; frames from a search in vain to the next. */
const NEWEST = 0.05;
const LEAST_FRAMES = 5;
const SEARCH_EVERY = 15;

/**
 * Watches how well frames match. Strokes look like their neighbours: after a quick turn of the camera the registration may
 * stop at a view one or more strokes off, which matches a little worse. Then views turned by a few degrees are tried, and one
 * that matches clearly better is taken.
 */
export function turnWatch(): (
  found: Registration,
  last: RegistrationStart,
  registerFrom: (start: RegistrationStart) => Registration | null,
) => Registration {
  let usualLoss = 0;
  let frameCount = 0;
  let sinceSearch = SEARCH_EVERY;
  return (found, last, registerFrom) => {
    const loss = 1 - found.match;
    const isOdd = frameCount >= LEAST_FRAMES && loss > LOSS_RATIO * usualLoss + LOSS_MORE;
    frameCount++;
    usualLoss += Math.max(NEWEST, 1 / frameCount) * (loss - usualLoss);
    sinceSearch++;
    if (!isOdd || sinceSearch < SEARCH_EVERY) return found;
    let best = found;
    for (let turn = 1; turn <= TURN_COUNT; turn++) {
      for (const side of [1, -1]) {
        const view = registerFrom({
          ...last,
          warp: turnedBy(found.warp, (side * turn * TURN_STEP_DEG * Math.PI) / 180),
          residual: 2 * last.residual,
        });
        if (view !== null && 1 - view.match < CLEARLY_LESS * loss && view.match > best.match) best = view;
      }
    }
    if (best === found) sinceSearch = 0;
    return best;
  };
}

/** A view turned about the reference's centre. */
function turnedBy(warp: Warp, turnRad: number): Warp {
  const [cos, sin] = [Math.cos(turnRad), Math.sin(turnRad)];
  const { a, b, c, d } = warp;
  return {
    ...warp,
    a: (1 + a) * cos + b * sin - 1,
    b: b * cos - (1 + a) * sin,
    c: c * cos + (1 + d) * sin,
    d: (1 + d) * cos - c * sin - 1,
  };
}
