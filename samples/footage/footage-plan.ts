import type { DialStyleName } from "./dial-style.js";

/** Everything that fixes one simulated clip. */
export interface FootagePlan {
  readonly name: string;
  readonly seed: number;
  readonly style: DialStyleName;
  readonly durationS: number;
  readonly frameRateHz: number;
  /** Coded picture, pixels. */
  readonly width: number;
  readonly height: number;
  readonly radiusPx: number;
  readonly camera: CameraPlan;
  readonly light: LightPlan;
  readonly timing: TimingPlan;
  readonly bus: BusPlan;
  readonly sound: SoundPlan | null;
  readonly container: ContainerPlan;
  /** Stretches in which the dial is covered, `[startS, endS)`. */
  readonly hidden: readonly { readonly startS: number; readonly endS: number; readonly by: "hand" | "turned-away" }[];
}

export interface CameraPlan {
  /** Shake at the dial, root mean square pixels; its 1/f spectrum runs from 0.12 to 12 Hz. */
  readonly shakeRmsPx: number;
  readonly rollRmsDeg: number;
  readonly scaleRms: number;
  readonly tiltRms: number;
  /** Fixed view: roll of the phone and slant of the view. */
  readonly rollDeg: number;
  readonly slant: number;
  readonly readoutS: number;
  readonly exposureS: number;
  /** How many times the lens hunts for focus. */
  readonly focusHunts: number;
  /** Movement of the needle against the face for each pixel of shake (the needle stands proud). */
  readonly parallax: number;
}

export interface LightPlan {
  readonly level: number;
  /** Standard deviation of a pixel's noise, gray levels. */
  readonly noise: number;
  readonly driftShare: number;
  readonly flickerShare: number;
  readonly glare: number;
}

export interface TimingPlan {
  readonly firstStampS: number;
  /** Half-width of the jitter of the stamps; 0 for a constant rate. */
  readonly jitterS: number;
  readonly droppedShare: number;
}

export interface BusPlan {
  readonly openCircuitV: number;
  readonly slopeVPerS: number;
  readonly needleHz: number;
  readonly needleDamping: number;
  /** The meter is switched on at this time and sweeps up from zero; absent where it was on before. */
  readonly powerUpS?: number;
  readonly dips: readonly { readonly onS: number; readonly offS: number; readonly depthV: number }[];
}

export interface SoundPlan {
  /** Peak of a click, and root mean square of the noise, decibels below full scale. */
  readonly clickDb: number;
  readonly noiseDb: number;
  readonly noise: "quiet" | "fan" | "engine" | "voice";
  /** Time of the first sound on the container's clock. */
  readonly startS: number;
  readonly codec: "aac" | "libopus";
}

export interface ContainerPlan {
  readonly codec: "libx264" | "libx265" | "libvpx-vp9";
  readonly bitDepth: 8 | 10;
  readonly bitsPerS: number;
  /** Bound of the bits in any second; needed where their number changes on the way. */
  readonly mostBitsPerS?: number;
  readonly extension: "mp4" | "mov" | "webm" | "mkv";
  /** Clockwise turn needed to stand the picture upright. */
  readonly rotationDeg: 0 | 90 | 180 | 270;
}

const CAMERA: CameraPlan = {
  shakeRmsPx: 2,
  rollRmsDeg: 0.08,
  scaleRms: 0.0008,
  tiltRms: 0.0004,
  rollDeg: 2.2,
  slant: 0.03,
  readoutS: 0.018,
  exposureS: 1 / 120,
  focusHunts: 2,
  parallax: 0.004,
};
const LIGHT: LightPlan = { level: 1, noise: 2.5, driftShare: 0.02, flickerShare: 0, glare: 24 };

/** How a clip is taken: hand, light and distance. */
export const CONDITIONS = {
  calm: { camera: CAMERA, light: LIGHT, radiusPx: 380 },
  shaky: {
    camera: { ...CAMERA, shakeRmsPx: 10, rollRmsDeg: 0.5, scaleRms: 0.004, exposureS: 0.012 },
    light: LIGHT,
    radiusPx: 380,
  },
  dim: {
    camera: { ...CAMERA, shakeRmsPx: 4, rollRmsDeg: 0.15, exposureS: 0.03 },
    light: { ...LIGHT, level: 0.38, noise: 9, flickerShare: 0.015, glare: 10 },
    radiusPx: 380,
  },
  far: { camera: { ...CAMERA, shakeRmsPx: 4, rollRmsDeg: 0.15 }, light: LIGHT, radiusPx: 170 },
  tripod: {
    camera: { ...CAMERA, shakeRmsPx: 0.05, rollRmsDeg: 0.003, scaleRms: 0, tiltRms: 0, focusHunts: 0 },
    light: LIGHT,
    radiusPx: 380,
  },
} as const satisfies Record<string, Pick<FootagePlan, "camera" | "light" | "radiusPx">>;

export type ConditionName = keyof typeof CONDITIONS;

/** Steps of 0.05 to 0.3 V, each on for 1.6 s and off for 1.6 s, as many as the duration holds. */
export function ladderOfDips(durationS: number): BusPlan["dips"] {
  const depths = [0.1, 0.3, 0.05, 0.2, 0.15, 0.1, 0.05];
  return depths
    .map((depthV, k) => ({ onS: 1.8 + 2.6 * k, offS: 3.1 + 2.6 * k, depthV }))
    .filter(({ offS }) => offS < durationS - 0.6);
}

/** A plan for one condition; any part can be overruled. */
export function footagePlan(condition: ConditionName, changes: Partial<FootagePlan> = {}): FootagePlan {
  const durationS = changes.durationS ?? 20;
  return {
    name: condition,
    seed: 20261125,
    style: "ice-2-panel",
    frameRateHz: 30,
    width: 1920,
    height: 1080,
    ...CONDITIONS[condition],
    timing: { firstStampS: 0, jitterS: 0, droppedShare: 0 },
    bus: {
      openCircuitV: 24.6,
      slopeVPerS: -0.002,
      needleHz: 2.2,
      needleDamping: 0.65,
      dips: ladderOfDips(durationS),
    },
    sound: { clickDb: -30, noiseDb: -50, noise: "quiet", startS: 0, codec: "aac" },
    container: { codec: "libx264", bitDepth: 8, bitsPerS: 12e6, extension: "mp4", rotationDeg: 0 },
    hidden: [],
    ...changes,
    durationS,
  };
}
