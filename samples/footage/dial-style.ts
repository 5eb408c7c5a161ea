/** How a panel voltmeter looks. Lengths are shares of the radius; angles run clockwise from the x axis, degrees. */
export interface DialStyle {
  readonly name: string;
  readonly fullScaleV: number;
  /** Where the needle points at 0 V, and how far it turns to full scale (negative: anticlockwise). */
  readonly zeroDeg: number;
  readonly sweepDeg: number;
  /** Crowding of the scale towards its end; 0 for an even scale. */
  readonly crowding: number;
  readonly majorV: number;
  readonly minorV: number;
  /** Luma of face, ink, needle and panel, limited range. */
  readonly face: number;
  readonly ink: number;
  readonly needle: number;
  readonly panel: number;
  readonly needleShape: "bar" | "hand";
  readonly needleReach: number;
  readonly needleTail: number;
  readonly needleHalfWidth: number;
  /** What hides the pivot: a round cap, or a plate across the lower part of the dial. */
  readonly cover: "cap" | "plate";
  /** Round or square face. */
  readonly outline: "round" | "square";
}

const COMMON = { fullScaleV: 30, crowding: 0, majorV: 5, minorV: 1, needleReach: 0.92, needleTail: 0.1 } as const;

/** The dials of the invented aircraft's panel and of its bench. */
export const DIAL_STYLES = {
  "ice-2-panel": {
    ...COMMON,
    name: "ice-2-panel",
    zeroDeg: -135,
    sweepDeg: 90,
    face: 44,
    ink: 212,
    needle: 218,
    panel: 88,
    needleShape: "hand",
    needleHalfWidth: 0.012,
    cover: "plate",
    outline: "square",
  },
  "ice-2-bench": {
    ...COMMON,
    name: "ice-2-bench",
    zeroDeg: -135,
    sweepDeg: 90,
    face: 208,
    ink: 40,
    needle: 36,
    panel: 96,
    needleShape: "bar",
    needleHalfWidth: 0.009,
    cover: "plate",
    outline: "square",
  },
  "round-wide": {
    ...COMMON,
    name: "round-wide",
    zeroDeg: 140,
    sweepDeg: 260,
    face: 38,
    ink: 205,
    needle: 222,
    panel: 70,
    needleShape: "hand",
    needleTail: 0.25,
    needleHalfWidth: 0.02,
    cover: "cap",
    outline: "round",
  },
  "round-reverse": {
    ...COMMON,
    name: "round-reverse",
    zeroDeg: -20,
    sweepDeg: -140,
    crowding: 0.25,
    face: 200,
    ink: 46,
    needle: 60,
    panel: 120,
    needleShape: "bar",
    needleHalfWidth: 0.012,
    cover: "cap",
    outline: "round",
  },
  "narrow-sector": {
    ...COMMON,
    name: "narrow-sector",
    zeroDeg: -120,
    sweepDeg: 60,
    face: 196,
    ink: 44,
    needle: 30,
    panel: 60,
    needleShape: "hand",
    needleHalfWidth: 0.01,
    cover: "plate",
    outline: "square",
  },
} as const satisfies Record<string, DialStyle>;

export type DialStyleName = keyof typeof DIAL_STYLES;

/** Angle at which the needle shows a voltage, degrees. */
export function angleOfVolts(style: DialStyle, volts: number): number {
  const share = volts / style.fullScaleV;
  return style.zeroDeg + style.sweepDeg * (share + style.crowding * share * (1 - share));
}
