/** One film of a load that is switched by hand while something else goes by the beat of the same switch, read and judged. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { DIAL_STYLES, type DialStyleName } from "../../../samples/footage/dial-style.js";
import type { FilmFaults } from "../../../samples/footage/film-faults.js";
import { CONDITIONS, type FootagePlan, footagePlan } from "../../../samples/footage/footage-plan.js";
import { makeClip } from "../../../samples/footage/make-clip.js";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { analyze, type BusProfile, type LoadAnswer, type SwitchingMark } from "../../../src/core/index.js";
import { findDial, type NeedleReading, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { openClip } from "../../../src/importers/video/node/node-clip.js";

const DURATION_S = 18;
const RADIUS_PX = 170;
/** The hand takes this long from one state to the other, half of it before the switching. */
const HAND_S = 0.3;
/** The load may draw what makes dips of 18 to 63 mV: a dead one can be told to be dead. */
const profileWith = (frictionV: number): BusProfile => ({
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  meter: { fullScaleV: 30, lagS: 0.1, frictionV },
  loads: [{ id: "probe", kind: "heater", acceptA: [1.44, 5.04], reference: false }],
});

export interface Beat {
  readonly dips: readonly { readonly onS: number; readonly offS: number }[];
  /** How far the hand is on the switch, 0 to 1. */
  on(timeS: number): number;
}

export interface BeatKind {
  readonly faults: (beat: Beat, plan: FootagePlan) => FilmFaults;
  readonly changes?: Partial<FootagePlan>;
  /** What the profile tells of the needle's friction, V. */
  readonly frictionV?: number;
}

export interface BeatTrial {
  readonly depthV: number;
  /** What the program asked instead of reading, or why it could not. */
  readonly asked: string | null;
  readonly load: LoadAnswer | null;
  readonly reading: NeedleReading | null;
  /** Errors of the readings over their stated standard uncertainty about their common offset, root mean square. */
  readonly errorShare: number;
}

/** Switchings of 1.8 to 2.6 s with 1.6 to 2.5 s between. */
export function beatOf(seed: number): Beat {
  const random = randomSource(seed + 77);
  const dips: { onS: number; offS: number }[] = [];
  let t = 2 + random.uniform();
  while (t + 2.6 < DURATION_S - 0.8) {
    const [onS, offS] = [t, t + 1.8 + 0.8 * random.uniform()];
    dips.push({ onS, offS });
    t = offS + 1.6 + 0.9 * random.uniform();
  }
  const held = (sinceS: number) => {
    const share = Math.max(0, Math.min(1, 0.5 + sinceS / HAND_S));
    return share * share * (3 - 2 * share);
  };
  return { dips, on: (timeS) => dips.reduce((sum, { onS, offS }) => sum + held(timeS - onS) - held(timeS - offS), 0) };
}

/** Films, reads through careful clicks on a still before the first switching, and judges with exact marks. */
export async function beatTrial(
  kind: BeatKind,
  seed: number,
  depthV: number,
  style: DialStyleName,
): Promise<BeatTrial> {
  const beat = beatOf(seed);
  const base = CONDITIONS.far;
  const isRound = DIAL_STYLES[style].outline === "round";
  const pixels = (radii: number) => 16 * Math.ceil((radii * RADIUS_PX) / 16);
  const plan = footagePlan("far", {
    seed,
    style,
    durationS: DURATION_S,
    frameRateHz: 20,
    radiusPx: RADIUS_PX,
    width: pixels(isRound ? 2.75 : 2.4),
    height: pixels(isRound ? 2.75 : 2.1),
    camera: { ...base.camera, shakeRmsPx: 2, rollRmsDeg: 0.1, focusHunts: 0 },
    sound: null,
    container: { codec: "libx264", bitDepth: 8, bitsPerS: 2.5e6, extension: "mp4", rotationDeg: 0 },
    bus: {
      openCircuitV: 24.4,
      slopeVPerS: -0.002,
      needleHz: 2.2,
      needleDamping: 0.65,
      dips: beat.dips.map((dip) => ({ ...dip, depthV })),
    },
    ...kind.changes,
  });
  const folder = mkdtempSync(join(tmpdir(), "by-the-beat-"));
  try {
    const path = join(folder, "clip.mp4");
    const truth = await makeClip(plan, path, { faults: kind.faults(beat, plan), stillS: beat.dips[0]!.onS - 0.9 });
    const clip = await openClip(path);
    const still = { timeS: truth.still.timeS, width: plan.width, height: plan.height };
    const found = await findDial(clip, { dial: { still, pivot: truth.still.pivot, marks: truth.still.marks } });
    if (found.kind === "question")
      return { depthV, asked: found.code, load: null, reading: null, errorShare: Number.NaN };
    const reading = await readNeedle(clip, found);
    const marks = beat.dips.flatMap(({ onS, offS }): SwitchingMark[] => [
      { timeS: onS, load: "probe", action: "on" },
      { timeS: offS, load: "probe", action: "off" },
    ]);
    const load = analyze(reading, { marks, profile: profileWith(kind.frictionV ?? 0) }).loads.find(
      ({ id }) => id === "probe",
    )!;
    return { depthV, asked: null, load, reading, errorShare: errorShare(reading, truth) };
  } catch (error) {
    return { depthV, asked: (error as Error).message, load: null, reading: null, errorShare: Number.NaN };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function errorShare(reading: NeedleReading, truth: { timesS: readonly number[]; volts: readonly number[] }): number {
  const errors = Array.from(reading.timesS, (timeS, k) => {
    const at = truth.timesS.findIndex((one) => Math.abs(one - timeS) < 0.001);
    return reading.voltagesV[k]! - truth.volts[at]!;
  });
  const offsetV = errors.reduce((sum, error) => sum + error, 0) / errors.length;
  const squares = errors.map((error, k) => ((error - offsetV) / reading.readingUncertaintiesV[k]!) ** 2);
  return Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / squares.length);
}
