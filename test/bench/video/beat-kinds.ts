/** Faults of a film that go by the beat of the switch: none of them moves the needle. */
import type { Projection } from "../../../samples/footage/camera-motion.js";
import { USUAL_SHADOW } from "../../../samples/footage/film-faults.js";
import type { BeatKind } from "./beat-trial.js";

/** A lamp that the switch lights: the needle's shadow is lighter by this share, the dial a little brighter. */
const lighterShadow = (share: number): BeatKind => ({
  faults: ({ on }) => ({
    shadows: (t) => [{ ...USUAL_SHADOW, darkness: USUAL_SHADOW.darkness * (1 - share * on(t)) }],
    light: (t) => 1 + 0.8 * share * on(t),
  }),
});

const blurred = (px: number): BeatKind => ({ faults: ({ on }) => ({ blurPx: (t) => px * on(t) }) });

/** Moves the picture; every place by as many pixels. */
function moved(view: Projection, dx: number, dy: number): void {
  for (let k = 0; k < 3; k++) {
    view[k]! += dx * view[6 + k]!;
    view[3 + k]! += dy * view[6 + k]!;
  }
}

/** Enlarges the picture about a place. */
function zoomed(view: Projection, zoom: number, { x, y }: { x: number; y: number }): void {
  for (let k = 0; k < 3; k++) {
    view[k] = zoom * view[k]! + (1 - zoom) * x * view[6 + k]!;
    view[3 + k] = zoom * view[3 + k]! + (1 - zoom) * y * view[6 + k]!;
  }
}

export const BEAT_KINDS: Readonly<Record<string, BeatKind>> = {
  none: { faults: () => ({}) },
  shadow5: lighterShadow(0.05),
  shadow12: lighterShadow(0.12),
  shadow16: lighterShadow(0.16),
  shadow20: lighterShadow(0.2),
  tone: { faults: ({ on }) => ({ gamma: (t) => 1 - 0.25 * on(t) }) },
  shadow2: {
    faults: ({ on }) => ({
      shadows: (t) => [USUAL_SHADOW, { x: -0.025, y: 0.01, darkness: 0.06 * on(t), soft: 0.02 }],
      light: (t) => 1 + 0.05 * on(t),
    }),
  },
  crop: {
    faults: ({ on }, { width, height }) => ({
      view(t, view) {
        zoomed(view, 1 + 0.02 * on(t), { x: width / 2, y: height / 2 });
        moved(view, 5.3 * on(t), -3.4 * on(t));
      },
    }),
  },
  // An arm that reaches out: the phone gives way by an exponential.
  view: {
    faults: ({ dips }) => {
      const gone = (sinceS: number) => (sinceS > 0 ? 1 - Math.exp(-sinceS / 0.4) : 0);
      const share = (t: number) => dips.reduce((sum, { onS, offS }) => sum + gone(t - onS) - gone(t - offS), 0);
      return { view: (t, view) => moved(view, 6 * share(t), -4 * share(t)) };
    },
  },
  // An eye that moves by 1.5 mm at a quarter of a metre, across a needle that stands at 24.4 V of the dials with 90 degrees.
  eye: { faults: ({ on }) => ({ aside: (t) => ({ x: -2.6e-4 * on(t), y: -1.4e-4 * on(t) }) }) },
  blur4: blurred(0.4),
  blur8: blurred(0.8),
};
