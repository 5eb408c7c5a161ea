import { NO_NOISE, type NoiseParts } from "./noise.js";
import type { Range } from "./random.js";

/** Everything a simulated recording is drawn from; ranges are drawn evenly, recording by recording. */
export interface CellSettings {
  readonly durationS: Range;
  readonly rateHz: Range;
  readonly sampling: "even" | "poisson";
  readonly switchingCount: Range;
  readonly onS: number;
  readonly offS: number;
  /** Standard deviation of the hand, drawn once per recording, on each true edge. */
  readonly edgeJitterS: Range;
  /** Standard deviation of a logged mark about its true edge, where marks are jittered. */
  readonly markErrorS: number;
  readonly marginS: number;
  readonly noise: NoiseParts;
  /** Recovery of the battery after an earlier load: 60 % with the drawn time, the rest five times slower. */
  readonly relaxationV: Range;
  readonly relaxationTimeS: Range;
  readonly relaxationSlowShare: number;
  /** Straight rise or fall over the whole recording. */
  readonly slopeV: Range;
  readonly openCircuitV: Range;
  readonly quantumV: number;
  readonly outlierShare: Range;
  readonly outlierV: number;
  readonly toneV: number;
  readonly toneHz: Range;
  readonly gapCount: Range;
  readonly gapS: Range;
  /** Share of the time during which the white and coloured parts have four times the variance. */
  readonly burstShare: Range;
  readonly inrush: Range;
  readonly settleS: Range;
  readonly polarization: Range;
  readonly polarizationTimeS: Range;
  readonly lagS: Range;
  readonly lagOrder: 1 | 2;
}

/** Twenty minutes at 10 Hz, three switchings 8 s on and 8 s off: the cells of the first study. */
const LONG: CellSettings = {
  durationS: [1200, 1200],
  rateHz: [10, 10],
  sampling: "even",
  switchingCount: [3, 3],
  onS: 8,
  offS: 8,
  edgeJitterS: [0, 0],
  markErrorS: 0.2,
  marginS: 135,
  noise: NO_NOISE,
  relaxationV: [0, 0],
  relaxationTimeS: [200, 900],
  relaxationSlowShare: 0,
  slopeV: [0, 0],
  openCircuitV: [24.5, 25.5],
  quantumV: 0,
  outlierShare: [0, 0],
  outlierV: 0.5,
  toneV: 0,
  toneHz: [0.3, 4.5],
  gapCount: [0, 0],
  gapS: [1, 6],
  burstShare: [0, 0],
  inrush: [1, 1],
  settleS: [3, 3],
  polarization: [0.4, 0.4],
  polarizationTimeS: [20, 20],
  lagS: [0.5, 0.5],
  lagOrder: 1,
};

/** The pilot's recording: short, hand-timed, a battery that still recovers, a load and a meter that vary. */
const SHORT: CellSettings = {
  ...LONG,
  durationS: [30, 90],
  rateHz: [10, 30],
  switchingCount: [3, 5],
  onS: 5,
  offS: 5,
  edgeJitterS: [0.25, 0.5],
  marginS: 3,
  relaxationV: [0.3, 0.3],
  relaxationTimeS: [40, 200],
  relaxationSlowShare: 0.4,
  inrush: [0, 1],
  settleS: [1, 3],
  polarization: [0.2, 0.5],
  polarizationTimeS: [10, 30],
  lagS: [0.1, 0.5],
};

const WHITE: NoiseParts = { ...NO_NOISE, whiteV: 0.03 };
const COLOURED: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.03 };
const WALK: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.02, walkVPerRtS: 0.006 };
const FLICKER: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.02, flickerVPerRtHz: 0.006 };

const DRIFTING: CellSettings = { ...LONG, noise: FLICKER, relaxationV: [0.25, 0.25], slopeV: [0, 0.3] };
const DISPLAY: CellSettings = { ...SHORT, rateHz: [20, 20], quantumV: 0.1, relaxationV: [0.6, 0.6] };

export const CELLS = {
  W: { ...LONG, noise: WHITE },
  A: { ...LONG, noise: COLOURED },
  F: DRIFTING,
  R: { ...DRIFTING, quantumV: 0.02, outlierShare: [0.002, 0.002], toneV: 0.02 },
  "S-W": { ...SHORT, noise: WHITE },
  "S-A": { ...SHORT, noise: COLOURED },
  "S-F": { ...SHORT, noise: WALK },
  Q10: { ...DISPLAY, noise: { ...NO_NOISE, whiteV: 0.01 } },
  Q20: { ...DISPLAY, noise: { ...NO_NOISE, whiteV: 0.02 } },
  Q30: { ...DISPLAY, noise: { ...NO_NOISE, whiteV: 0.03 } },
  Q50: { ...DISPLAY, noise: { ...NO_NOISE, whiteV: 0.05 } },
  G: { ...SHORT, noise: COLOURED, gapCount: [1, 3] },
  I: { ...SHORT, noise: WALK, sampling: "poisson" },
  N: { ...SHORT, noise: COLOURED, burstShare: [0.2, 0.5] },
  L: { ...SHORT, noise: COLOURED, lagS: [0.3, 0.8], lagOrder: 2 },
  O: { ...SHORT, noise: COLOURED, outlierShare: [0.005, 0.01] },
} as const satisfies Record<string, CellSettings>;

export type CellName = keyof typeof CELLS;

/** Cell names from a list such as `S,W`: a family letter stands for all its members. */
export function cellNames(list: string): CellName[] {
  const all = Object.keys(CELLS) as CellName[];
  return list.split(",").flatMap((word) => {
    const family = all.filter((name) => name === word || name.replace(/-.*|\d+$/, "") === word);
    if (family.length === 0) throw new RangeError(`Cannot find the cell ${word}: known cells are ${all.join(", ")}`);
    return family;
  });
}
