import { type Analysis, analyze, type SwitchingMark } from "../../src/core/index.js";
import { type DipShape, dipTrain } from "./dip-shape.js";
import { drawNoise, NO_NOISE, type NoiseParts } from "./noise.js";
import { type RandomStream, randomStream } from "./random.js";

/** What one of the three switchings of a load really did. */
export type Fate = "as marked" | "trips, is set again" | "trips for good" | "left on" | "dead";

export const FATES: readonly Fate[] = ["as marked", "trips, is set again", "trips for good", "left on", "dead"];

/** Noise of a reading, and the depth of the dip. */
export interface StrayCell {
  readonly name: string;
  readonly noise: NoiseParts;
  readonly depthV: number;
}

const WHITE: NoiseParts = { ...NO_NOISE, whiteV: 0.03 };
const COLOURED: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.03 };
const WALK: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.02, walkVPerRtS: 0.006 };

export const STRAY_CELLS: readonly StrayCell[] = [
  { name: "white", noise: WHITE, depthV: 0.1 },
  { name: "coloured", noise: COLOURED, depthV: 0.1 },
  { name: "wander", noise: WALK, depthV: 0.1 },
  { name: "coloured, deep", noise: COLOURED, depthV: 0.4 },
];

/** One simulated check of one load with three switchings, and what was made of it. */
export interface StrayTrial {
  readonly analysis: Analysis;
  /** The stray release, seconds; null where all went as marked. */
  readonly strayS: number | null;
  readonly depthV: number;
}

const MARK_ERROR_S = 0.2;

export function strayTrial(cell: StrayCell, fate: Fate, seed: number): StrayTrial {
  const random = randomStream(seed, cell.name, fate);
  const heater = random.uniform() < 0.5;
  const marked = markedTimes(random);
  const endS = marked[2]!.offS + 25;
  const timesS = Float64Array.from({ length: Math.floor(endS * 10) }, (_, i) => i / 10);
  const off = () => MARK_ERROR_S * random.normal();
  const times = marked.map(({ onS, offS }) => ({ onS: onS + off(), offS: offS + off() }));
  const strayS = stray(times, fate, endS, random);
  const shape = drawShape(heater, random);
  const fall = dipTrain(shape, times, timesS);
  const noiseV = drawNoise(cell.noise, timesS, null, random);
  const depthV = fate === "dead" ? 0 : cell.depthV;
  const voltagesV = noiseV.map((v, i) => 24.5 + 0.3 * Math.exp(-timesS[i]! / 60) + v - depthV * fall[i]!);
  const marks = marked.flatMap(({ onS, offS }): SwitchingMark[] => [
    { timeS: onS, load: "load", action: "on" },
    { timeS: offS, load: "load", action: "off" },
  ]);
  const profile = {
    meter: { lagS: shape.lagS },
    loads: [{ id: "load", kind: heater ? ("heater" as const) : ("resistive" as const), reference: false }],
  };
  return { analysis: analyze({ timesS, voltagesV }, { marks, profile, seed }), strayS, depthV };
}

/** Three switchings of 4 to 8 s, as far apart. */
function markedTimes(random: RandomStream): { onS: number; offS: number }[] {
  const seconds = () => 4 + Math.floor(5 * random.uniform());
  let timeS = 15;
  return Array.from({ length: 3 }, () => {
    const onS = timeS;
    const offS = onS + seconds();
    timeS = offS + seconds();
    return { onS, offS };
  });
}

/** Changes the true times as the fate wills; the release that no mark tells. */
function stray(times: { onS: number; offS: number }[], fate: Fate, endS: number, random: RandomStream): number | null {
  const k = Math.floor((fate === "trips for good" ? 2 : 3) * random.uniform());
  const one = times[k]!;
  const share = random.between([0.25, 0.65]);
  if (fate === "as marked" || fate === "dead") return null;
  if (fate === "left on") {
    times[2]!.offS = endS + 10;
    return times[2]!.offS;
  }
  one.offS = one.onS + share * (one.offS - one.onS);
  if (fate === "trips for good") times.splice(k + 1);
  return one.offS;
}

function drawShape(heater: boolean, random: RandomStream): DipShape {
  return {
    inrush: heater ? random.between([0, 1]) : 0,
    settleS: random.between([2, 4]),
    polarization: random.between([0.1, 0.5]),
    polarizationTimeS: random.between([10, 30]),
    lagS: random.between([0.1, 0.5]),
    lagOrder: 1,
  };
}
