import type { CurrentSeries, Recording } from "../../../src/core/index.js";
import type { RandomGenerator } from "../../../src/core/statistics/random.js";

/** How a voltmeter and a clamp meter log the same switchings on clocks of their own. */
export interface PairSettings {
  readonly voltageRateHz: number;
  readonly currentRateHz: number;
  readonly durationS: number;
  readonly switchingCount: number;
  /** Standard deviation of a reading, as a share of the step. */
  readonly noiseShareV: number;
  readonly noiseShareA: number;
  readonly voltageLagS: number;
  /** The alignment is told the lag. */
  readonly lagTold?: boolean;
  /** The clamp shows its value of that moment, or of its last conversion, or the mean since the row before. */
  readonly clamp: "instant" | "held" | "mean";
  /** Conversions of the clamp a second, where it holds its value; as many as rows when left out. */
  readonly conversionRateHz?: number;
  readonly largestOffsetS: number;
  readonly largestRatePpm: number;
  /** The current steps at other times than the voltage does. */
  readonly unrelated?: boolean;
  /** How many switchings the voltage then shows; as many as the current when left out. */
  readonly unrelatedCount?: number;
  /** Half the spread of an on or an off time about 5 s; 1 s when left out. */
  readonly rhythmSpreadS?: number;
  /** Regular switchings, of which the clamp missed the first. */
  readonly missedFirst?: boolean;
  /** AR(1) correlation of neighbouring voltage readings at 10 Hz. */
  readonly correlation?: number;
}

export const EVERYDAY: PairSettings = {
  voltageRateHz: 10,
  currentRateHz: 4,
  durationS: 90,
  switchingCount: 3,
  noiseShareV: 0.25,
  noiseShareA: 0.25,
  voltageLagS: 0.3,
  clamp: "instant",
  largestOffsetS: 600,
  largestRatePpm: 50,
};

export interface ClockPair {
  readonly recording: Recording;
  readonly current: CurrentSeries;
  /** The recording's time of that time on the current's clock. */
  recordingTimeS(currentTimeS: number): number;
}

const STEP_V = 0.12;
const STEP_A = 5.7;

/** One pair of logs, drawn anew; written without any part of the alignment. */
export function clockPair(settings: PairSettings, random: RandomGenerator): ClockPair {
  const offsetS = (2 * random.uniform() - 1) * settings.largestOffsetS;
  const rate = (2 * random.uniform() - 1) * settings.largestRatePpm * 1e-6;
  const switchings = drawSwitchings(settings, random);
  const seen =
    settings.unrelated === true
      ? drawSwitchings({ ...settings, switchingCount: settings.unrelatedCount ?? settings.switchingCount }, random)
      : switchings;
  const voltage = sampleTimes(settings.durationS, settings.voltageRateHz, random);
  const { lag, noise } = { lag: settings.voltageLagS, noise: settings.noiseShareV * STEP_V };
  const kept = (settings.correlation ?? 0) ** (10 / settings.voltageRateHz);
  let wander = random.normal() * noise;
  const voltagesV = voltage.map((t) => {
    wander = kept * wander + Math.sqrt(1 - kept * kept) * random.normal() * noise;
    return 25.2 + 0.05 * (1 - Math.exp(-t / 40)) - STEP_V * lagged(seen, t, lag) + wander;
  });
  const moments = sampleTimes(settings.durationS, settings.currentRateHz, random).filter(
    (t) => settings.missedFirst !== true || t > (switchings[0]![1] + switchings[1]![0]) / 2,
  );
  const conversionHz = settings.conversionRateHz ?? settings.currentRateHz;
  const phaseS = random.uniform() / conversionHz;
  const conversionNoise: number[] = [];
  const currentsA = moments.map((t, i) => {
    const conversion = Math.floor((t - phaseS) * conversionHz);
    const heldS = conversion / conversionHz + phaseS;
    conversionNoise[conversion + 1] ??= random.normal();
    const noise = settings.clamp === "held" ? conversionNoise[conversion + 1]! : random.normal();
    const share =
      settings.clamp === "held"
        ? lagged(switchings, heldS, 0)
        : settings.clamp === "mean"
          ? meanOver(switchings, i === 0 ? t - 1 / settings.currentRateHz : moments[i - 1]!, t)
          : lagged(switchings, t, 0);
    return 0.4 + STEP_A * (share + settings.noiseShareA * noise);
  });
  return {
    recording: { timesS: voltage, voltagesV },
    current: { timesS: moments.map((t) => (t - offsetS) / (1 + rate)), currentsA },
    recordingTimeS: (time) => time * (1 + rate) + offsetS,
  };
}

/** On and off times: about 5 s each, as a person keeps time; regular where the clamp misses the first. */
function drawSwitchings(settings: PairSettings, random: RandomGenerator): [number, number][] {
  const spread = settings.missedFirst === true ? 0 : (settings.rhythmSpreadS ?? 1);
  const all = settings.switchingCount * 10;
  let at = 5 + random.uniform() * Math.max(1, settings.durationS - all - 12);
  return Array.from({ length: settings.switchingCount }, () => {
    const on = at;
    const off = on + 5 + spread * (random.uniform() - 0.5) * 2;
    at = off + 5 + spread * (random.uniform() - 0.5) * 2;
    return [on, off];
  });
}

function sampleTimes(durationS: number, rateHz: number, random: RandomGenerator): Float64Array {
  const phaseS = random.uniform() / rateHz;
  return Float64Array.from({ length: Math.floor(durationS * rateHz) }, (_, i) => phaseS + i / rateHz);
}

function lagged(switchings: readonly (readonly [number, number])[], t: number, lagS: number): number {
  const response = (since: number): number => (since < 0 ? 0 : lagS === 0 ? 1 : 1 - Math.exp(-since / lagS));
  return switchings.reduce((sum, [on, off]) => sum + response(t - on) - response(t - off), 0);
}

function meanOver(switchings: readonly (readonly [number, number])[], from: number, to: number): number {
  const on = switchings.reduce((sum, [a, b]) => sum + Math.max(0, Math.min(b, to) - Math.max(a, from)), 0);
  return on / (to - from);
}
