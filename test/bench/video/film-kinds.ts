/** What a film, a hand, a meter or an engine does beside the beat of a lamp: coding, frames, views, needles that stick or swing. */
import type { Projection } from "../../../samples/footage/camera-motion.js";
import type { FootagePlan } from "../../../samples/footage/footage-plan.js";
import type { Unsteady } from "../../../samples/footage/unsteady.js";
import type { Beat, BeatKind } from "./beat-trial.js";

const edgesOf = ({ dips }: Beat) => dips.flatMap(({ onS, offS }) => [onS, offS]);
const isHeld = ({ dips }: Beat, timeS: number) => dips.some(({ onS, offS }) => timeS >= onS && timeS < offS);

/** The picture turned about its middle, or laid on its other side. */
function through(
  view: Projection,
  [a, b, c, d]: readonly [number, number, number, number],
  x: number,
  y: number,
): void {
  for (let k = 0; k < 3; k++) {
    const [u, v] = [view[k]! - x * view[6 + k]!, view[3 + k]! - y * view[6 + k]!];
    view[k] = a * u + b * v + x * view[6 + k]!;
    view[3 + k] = c * u + d * v + y * view[6 + k]!;
  }
}

/** The phone is turned once, within a third of a second, as the third switching begins or halfway between two. */
const turned = (deg: number, atEdge: boolean): BeatKind => ({
  faults: ({ dips }, { width, height }) => {
    const atS = atEdge ? dips[1]!.onS : (dips[0]!.offS + dips[1]!.onS) / 2;
    return {
      view(t, view) {
        const turn = (Math.max(0, Math.min(1, 0.5 + (t - atS) / 0.3)) * deg * Math.PI) / 180;
        const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
        through(view, [cos, -sin, sin, cos], width / 2, height / 2);
      },
    };
  },
});

/** A bearing with friction: the needle stays until the coil pulls it by so many volts, then goes where it is pulled. */
const sticks = (byV: number, freedByTaps: boolean, isTold: boolean): BeatKind => ({
  frictionV: isTold ? byV : 0,
  faults: (beat) => ({
    needleV(shown): Unsteady {
      const stepS = 0.002;
      const free = freedByTaps ? edgesOf(beat) : [];
      let [heldV, freeUntilS] = [shown(-1), -1];
      const table: number[] = [];
      for (let t = -1; t < 20; t += stepS) {
        if (Math.abs(shown(t) - heldV) > byV || free.some((edgeS) => Math.abs(t - edgeS) < stepS)) freeUntilS = t + 0.4;
        if (t < freeUntilS) heldV += (shown(t) - heldV) * (stepS / 0.05);
        table.push(heldV);
      }
      return (timeS) => table[Math.max(0, Math.min(table.length - 1, Math.round((timeS + 1) / stepS)))]!;
    },
  }),
});

/** The hand knocks on the panel as it switches: the needle swings, the phone too. */
const bounces = (swingV: number, px: number): BeatKind => ({
  faults: (beat) => {
    const swing = (hz: number, fadeS: number) => (t: number) =>
      edgesOf(beat).reduce(
        (sum, edgeS) =>
          sum + (t < edgeS ? 0 : Math.exp(-(t - edgeS) / fadeS) * Math.sin(2 * Math.PI * hz * (t - edgeS))),
        0,
      );
    const [needle, phone] = [swing(2.2, 0.25), swing(7, 0.15)];
    return {
      needleV: (shown) => (t) => shown(t) - swingV * needle(t),
      view: (t, view) => moveBy(view, px * phone(t)),
    };
  },
});

function moveBy(view: Projection, px: number): void {
  for (let k = 0; k < 3; k++) view[k]! += px * view[6 + k]!;
}

/** A pump that shakes the needle, the panel or both while it is on; its phase is another at every switching. */
const vibrates = (hz: number, needleV: number, px: number): BeatKind => ({
  faults: (beat) => {
    const wave = (t: number) => {
      const at = beat.dips.findIndex(({ onS, offS }) => t >= onS && t < offS);
      return at < 0 ? 0 : Math.sin(2 * Math.PI * (hz * (t - beat.dips[at]!.onS) + 0.37 * at * at + 0.11));
    };
    return {
      leastMoments: 6,
      needleV: (shown) => (t) => shown(t) + needleV * wave(t),
      view: (t, view) => moveBy(view, px * wave(t)),
    };
  },
});

/** So few that a change of them shows. */
const FEW_BITS: FootagePlan["container"] = {
  codec: "libx264",
  bitDepth: 8,
  bitsPerS: 6e5,
  mostBitsPerS: 6e5,
  extension: "mp4",
  rotationDeg: 0,
};

export const FILM_KINDS: Readonly<Record<string, BeatKind>> = {
  keys: { faults: (beat) => ({ isKey: (t) => edgesOf(beat).some((edgeS) => t >= edgeS && t < edgeS + 0.0499) }) },
  pulses: { faults: (beat) => ({ bits: (t) => (isHeld(beat, t) ? 0.15 : 1) }), changes: { container: FEW_BITS } },
  poor: { faults: (beat) => ({ bits: (t) => (isHeld(beat, t) ? 1 : 0.15) }), changes: { container: FEW_BITS } },
  // A busy phone repeats frames for as long as the hand is on the switch.
  held: { faults: (beat) => ({ shownS: (t) => (isHeld(beat, t) ? Math.floor(2.5 * t) / 2.5 : t) }) },
  frozen: {
    faults: ({ dips }) => ({ shownS: (t) => dips.find(({ onS, offS }) => t >= onS && t < offS)?.onS ?? t }),
  },
  rate: { faults: (beat) => ({ isDropped: (t) => isHeld(beat, t) && Math.round(20 * t) % 4 !== 0 }) },
  stick20: sticks(0.02, false, true),
  stick50: sticks(0.05, false, true),
  tapped50: sticks(0.05, true, true),
  stick20Untold: sticks(0.02, false, false),
  stick50Untold: sticks(0.05, false, false),
  tapped50Untold: sticks(0.05, true, false),
  turn5: turned(5, false),
  turn10: turned(10, false),
  turn15: turned(15, false),
  turn10AtOn: turned(10, true),
  mirrored: {
    faults: (_, { width, height }) => ({ view: (__, view) => through(view, [-1, 0, 0, 1], width / 2, height / 2) }),
  },
  barrel2: { faults: () => ({ barrel: 0.02 }) },
  barrel5: { faults: () => ({ barrel: 0.05 }) },
  knock: bounces(0.06, 3),
  pump30: vibrates(29.7, 0.05, 0),
  pump57: vibrates(57.3, 0.05, 0),
  pumpPanel: vibrates(41.3, 0.02, 0.8),
};
