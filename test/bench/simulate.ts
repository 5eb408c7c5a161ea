import { CELLS, type CellName, type CellSettings } from "./cells.js";
import { type DipShape, dipTrain, meanTerminalFall, type OnTime } from "./dip-shape.js";
import { drawNoise, type NoiseParts } from "./noise.js";
import { type RandomStream, randomStream } from "./random.js";

export type MarkKind = "exact" | "jittered" | "none";

export interface SimulationOptions {
  readonly seed: number;
  /** Steady current x ohmic resistance; 0 for a load that draws nothing (the marks stay). */
  readonly depthV: number;
  readonly marks: MarkKind;
  /** Replaces settings of the cell. */
  readonly settings?: Partial<CellSettings>;
}

export interface Mark {
  readonly timeS: number;
  readonly load: string;
  readonly action: "on" | "off";
}

/** A recording whose truth is known. */
export interface SimulatedRecording {
  readonly cell: CellName;
  readonly seed: number;
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  /** What the readings would be without the dip and before the display rounds. */
  readonly emptyV: Float64Array;
  /** Empty where the switching times are not told. */
  readonly marks: readonly Mark[];
  /** True times of the switch. */
  readonly onTimes: readonly OnTime[];
  /** The rhythm that was asked for, before the hand. */
  readonly cadence: { readonly switchingCount: number; readonly onS: number; readonly offS: number };
  /** Steady current x ohmic resistance. */
  readonly depthV: number;
  /** Mean fall at the terminals while on, from a rested battery, polarization and inrush included, per `depthV`. */
  readonly meanDepthPerV: number;
  readonly shape: DipShape;
  /** The reading's fall per volt of `depthV`, meter included, reading by reading. */
  readonly unitFall: Float64Array;
  /** Level without load, noise and rounding. */
  readonly driftV: Float64Array;
  readonly truth: NoiseTruth;
}

/** What the noise is made of, enough for its exact covariance. */
export interface NoiseTruth {
  readonly parts: NoiseParts;
  /** Factor on the white and coloured parts, reading by reading; null for 1. */
  readonly gain: Float64Array | null;
  /** Even sampling interval; null where the readings are not evenly spaced. */
  readonly intervalS: number | null;
  readonly quantumV: number;
  readonly isOutlier: Uint8Array;
  readonly outlierV: number;
  readonly tone: { readonly amplitudeV: number; readonly frequencyHz: number; readonly phase: number } | null;
}

export const LOAD_ID = "load";

/** Draws one recording; the same seed at another depth has the same noise, drift, edges and marks. */
export function simulateRecording(cell: CellName, options: SimulationOptions): SimulatedRecording {
  const settings: CellSettings = { ...CELLS[cell], ...options.settings };
  const random = (purpose: string) => randomStream(options.seed, cell, purpose);

  // When the readings are taken and the switch is moved.
  const setting = random("setting");
  const switchingCount = setting.integer(settings.switchingCount);
  const trainS = switchingCount * (settings.onS + settings.offS) - settings.offS;
  const durationS = Math.max(setting.between(settings.durationS), trainS + 2 * settings.marginS);
  const rateHz = setting.between(settings.rateHz);
  const { timesS, isEven } = readingTimes(settings, durationS, rateHz, random("sampling"));
  const onTimes = switchingTimes(settings, switchingCount, trainS, durationS, random("switching"));
  const shape = drawShape(settings, random("shape"));

  // What the meter shows.
  const unitFall = dipTrain(shape, onTimes, timesS);
  const driftV = drawDrift(settings, timesS, durationS, random("drift"));
  const gain = burstGain(settings, timesS, durationS, random("burst"));
  const noiseV = drawNoise(settings.noise, timesS, gain, random("noise"));
  const { isOutlier, outliersV } = drawOutliers(settings, timesS.length, random("outlier"));
  const tone = drawTone(settings, random("tone"));
  const emptyV = timesS.map((timeS, i) => {
    const toneV = tone === null ? 0 : tone.amplitudeV * Math.sin(2 * Math.PI * tone.frequencyHz * timeS + tone.phase);
    return driftV[i] + noiseV[i] + outliersV[i] + toneV;
  });

  const empty: SimulatedRecording = {
    cell,
    seed: options.seed,
    timesS,
    voltagesV: emptyV,
    emptyV,
    marks: drawMarks(onTimes, options.marks, settings.markErrorS, random("mark")),
    onTimes,
    cadence: { switchingCount, onS: settings.onS, offS: settings.offS },
    depthV: 0,
    meanDepthPerV: meanTerminalFall(shape, settings.onS),
    shape,
    unitFall,
    driftV,
    truth: {
      parts: settings.noise,
      gain,
      intervalS: isEven ? 1 / rateHz : null,
      quantumV: settings.quantumV,
      isOutlier,
      outlierV: settings.outlierV,
      tone,
    },
  };
  return withDepth(empty, options.depthV);
}

/** The same recording, noise and all, of a load with another depth. */
export function withDepth(recording: SimulatedRecording, depthV: number): SimulatedRecording {
  const { quantumV } = recording.truth;
  const voltagesV = recording.emptyV.map((levelV, i) => {
    const readingV = levelV - depthV * recording.unitFall[i];
    return quantumV > 0 ? Math.round(readingV / quantumV) * quantumV : readingV;
  });
  return { ...recording, voltagesV, depthV };
}

function readingTimes(
  settings: CellSettings,
  durationS: number,
  rateHz: number,
  random: RandomStream,
): { readonly timesS: Float64Array; readonly isEven: boolean } {
  const times: number[] = [];
  if (settings.sampling === "even") {
    const count = Math.floor(durationS * rateHz);
    for (let k = 0; k < count; k++) times.push(k / rateHz);
  } else {
    const waitS = () => -Math.log(1 - random.uniform()) / rateHz;
    for (let timeS = 0; timeS < durationS; timeS += waitS()) times.push(timeS);
  }
  const gapCount = random.integer(settings.gapCount);
  const gaps = Array.from({ length: gapCount }, () => {
    const startS = random.between([0, durationS]);
    return { startS, endS: startS + random.between(settings.gapS) };
  });
  const kept = times.filter((timeS) => !gaps.some(({ startS, endS }) => timeS > startS && timeS < endS));
  return { timesS: Float64Array.from(kept), isEven: settings.sampling === "even" && gapCount === 0 };
}

function switchingTimes(
  settings: CellSettings,
  switchingCount: number,
  trainS: number,
  durationS: number,
  random: RandomStream,
): OnTime[] {
  const startS = random.between([settings.marginS, durationS - settings.marginS - trainS]);
  const jitterS = random.between(settings.edgeJitterS);
  // A hand is never so far off that two edges swap.
  const moved = (timeS: number) => timeS + Math.max(-1.5, Math.min(1.5, jitterS * random.normal()));
  return Array.from({ length: switchingCount }, (_, k) => {
    const onS = startS + k * (settings.onS + settings.offS);
    return { onS: moved(onS), offS: moved(onS + settings.onS) };
  });
}

function drawShape(settings: CellSettings, random: RandomStream): DipShape {
  return {
    inrush: random.between(settings.inrush),
    settleS: random.between(settings.settleS),
    polarization: random.between(settings.polarization),
    polarizationTimeS: random.between(settings.polarizationTimeS),
    lagS: random.between(settings.lagS),
    lagOrder: settings.lagOrder,
  };
}

function drawDrift(
  settings: CellSettings,
  timesS: Float64Array,
  durationS: number,
  random: RandomStream,
): Float64Array {
  const levelV = random.between(settings.openCircuitV);
  const relaxationV = random.between(settings.relaxationV);
  const fastS = random.between(settings.relaxationTimeS);
  const slowShare = settings.relaxationSlowShare;
  const slopeV = random.between(settings.slopeV);
  return timesS.map((timeS) => {
    const left = (1 - slowShare) * Math.exp(-timeS / fastS) + slowShare * Math.exp(-timeS / (5 * fastS));
    return levelV - relaxationV * left + (slopeV * timeS) / durationS;
  });
}

/** Bursts of a few seconds, as a pump makes them: the standard deviation is doubled. */
function burstGain(
  settings: CellSettings,
  timesS: Float64Array,
  durationS: number,
  random: RandomStream,
): Float64Array | null {
  const share = random.between(settings.burstShare);
  if (share === 0) return null;
  const gain = new Float64Array(timesS.length).fill(1);
  const burstCount = random.integer([1, 3]);
  const burstS = (share * durationS) / burstCount;
  const slotS = durationS / burstCount;
  for (let k = 0; k < burstCount; k++) {
    const startS = k * slotS + random.between([0, slotS - burstS]);
    for (let i = 0; i < gain.length; i++) if (timesS[i] >= startS && timesS[i] < startS + burstS) gain[i] = 2;
  }
  return gain;
}

function drawOutliers(
  settings: CellSettings,
  count: number,
  random: RandomStream,
): { readonly isOutlier: Uint8Array; readonly outliersV: Float64Array } {
  const share = random.between(settings.outlierShare);
  const isOutlier = new Uint8Array(count);
  const outliersV = new Float64Array(count);
  if (share > 0) {
    for (let i = 0; i < count; i++) {
      isOutlier[i] = random.uniform() < share ? 1 : 0;
      outliersV[i] = isOutlier[i] * settings.outlierV * random.normal();
    }
  }
  return { isOutlier, outliersV };
}

function drawTone(settings: CellSettings, random: RandomStream) {
  if (settings.toneV === 0) return null;
  const frequencyHz = random.between(settings.toneHz);
  return { amplitudeV: settings.toneV, frequencyHz, phase: random.between([0, 2 * Math.PI]) };
}

function drawMarks(onTimes: readonly OnTime[], kind: MarkKind, markErrorS: number, random: RandomStream): Mark[] {
  if (kind === "none") return [];
  const logged = (timeS: number) => (kind === "exact" ? timeS : timeS + markErrorS * random.normal());
  return onTimes.flatMap(({ onS, offS }) => [
    { timeS: logged(onS), load: LOAD_ID, action: "on" as const },
    { timeS: logged(offS), load: LOAD_ID, action: "off" as const },
  ]);
}
