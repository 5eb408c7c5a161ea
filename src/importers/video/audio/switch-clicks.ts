import type { ClipSound } from "./clip-sound.js";
import { highPassed } from "./high-pass.js";

/** A sound like that of a switch. It tells a time, not a direction. */
export interface SwitchClick {
  /** Beginning of the click on the container's clock. */
  readonly timeS: number;
  /** Peak of the click over the noise around it (root mean square), both above 2.5 kHz. */
  readonly strengthDb: number;
}

const CORNER_HZ = 2500;
/** Energies are summed over bins of half a millisecond, and a click is sought in six of them. */
const BINS_PER_S = 2000;
const CLICK_BINS = 6;
/** The surroundings that a click must stand out of, in bins: before it, and after it has died away. */
const SURROUNDINGS = { from: 300, gap: 10, dying: 40 };
/** Times the surroundings' median, at the least. */
const LEAST_RATIO = 1.7;
/** Times the spread of the surroundings, above their median. */
const LEAST_SPREADS = 7;
/** Sound is steady where its loud parts stay within this many times the usual, a second to either side. */
const STEADY = { bins: 2000, loud: 0.98, times: 3.5, unevenness: 1.5 };
/** Beside speech and knocks a click must exceed their loud parts by far. */
const UNSTEADY_TIMES = 4;
const LEAST_UNSTEADY_DB = 24;
/** Power of the first 2 ms over that of the noise. */
const LEAST_POWER = 2.2;
/** Sounds shorter than this together hold no surroundings. */
const LEAST_S = 0.4;

/**
 * Clicks in a sound: sharp, short bursts above 2.5 kHz that stand out of what is heard just before and just after.
 *
 * Bursts that swell or last, as those of speech do, are left out. Nothing is heard in sound sampled below 12 kHz.
 */
export function switchClicks(sound: ClipSound): SwitchClick[] {
  const { samples, sampleRateHz, startS } = sound;
  if (sampleRateHz < 12_000 || samples.length < LEAST_S * sampleRateHz) return [];
  const high = highPassed(samples, sampleRateHz, CORNER_HZ);
  const bins = binEnergies(high, sampleRateHz);
  const windows = slidingSums(bins, CLICK_BINS);
  const clicks: SwitchClick[] = [];
  for (const bin of loudBins(windows)) {
    const around = surroundings(windows, bin);
    if (around === null || windows[bin]! < around.threshold || isInTrain(windows, bin, around.median)) continue;
    const noise = around.median / CLICK_BINS / (sampleRateHz / BINS_PER_S);
    const onset = onsetSample(high, (bin * sampleRateHz) / BINS_PER_S, sampleRateHz, noise);
    if (!isSharpAndShort(high, onset, sampleRateHz, noise, around.isSteady)) continue;
    const timeS = startS + onset / sampleRateHz;
    const strengthDb = 20 * Math.log10(peakAfter(high, onset, 0.005 * sampleRateHz) / Math.sqrt(noise));
    const last = clicks.at(-1);
    if (!around.isSteady && strengthDb < LEAST_UNSTEADY_DB) continue;
    if (last !== undefined && timeS - last.timeS < 0.03) continue;
    clicks.push({ timeS, strengthDb });
  }
  return clicks;
}

function binEnergies(high: Float32Array, sampleRateHz: number): Float64Array {
  const perBin = sampleRateHz / BINS_PER_S;
  const bins = new Float64Array(Math.floor(high.length / perBin));
  for (let bin = 0; bin < bins.length; bin++) {
    const [from, to] = [Math.round(bin * perBin), Math.round((bin + 1) * perBin)];
    let sum = 0;
    for (let k = from; k < to; k++) sum += high[k]! ** 2;
    bins[bin] = (sum * perBin) / (to - from);
  }
  return bins;
}

/** Sums of each bin and those that follow it. */
function slidingSums(bins: Float64Array, count: number): Float64Array {
  const sums = new Float64Array(Math.max(0, bins.length - count + 1));
  for (let bin = 0; bin < sums.length; bin++) {
    let sum = 0;
    for (let k = 0; k < count; k++) sum += bins[bin + k]!;
    sums[bin] = sum;
  }
  return sums;
}

/** Bins where the sound is louder than within 10 ms on either side, and twice as loud as half a second usually is. */
function* loudBins(windows: Float64Array): Generator<number> {
  const block = 0.5 * BINS_PER_S;
  for (let start = 0; start < windows.length; start += block) {
    const end = Math.min(windows.length, start + block);
    const usual = quantile([...windows.subarray(start, end)], 0.5);
    for (let bin = start; bin < end; bin++) {
      if (!(windows[bin]! > 2 * usual)) continue;
      let isHighest = true;
      for (let k = Math.max(0, bin - 20); k <= Math.min(windows.length - 1, bin + 20) && isHighest; k++)
        isHighest = windows[k]! < windows[bin]! || (windows[k]! === windows[bin]! && k >= bin);
      if (isHighest) yield bin;
    }
  }
}

/** What a click must exceed there; null where the sound begins or ends too near. */
function surroundings(
  windows: Float64Array,
  bin: number,
): { median: number; threshold: number; isSteady: boolean } | null {
  const { from, gap, dying } = SURROUNDINGS;
  const take = (first: number, last: number) => {
    const values: number[] = [];
    for (let k = Math.max(0, first); k < Math.min(windows.length, last); k += CLICK_BINS) values.push(windows[k]!);
    return values;
  };
  const before = take(bin - from, bin - gap);
  const after = take(bin + dying, bin + from);
  if (before.length + after.length < 20) return null;
  const sides = [before, after].filter((side) => side.length >= 8);
  const medians = sides.map((side) => quantile(side, 0.5));
  const median = Math.max(...medians, 1e-15);
  const spread = Math.max(...sides.map((side) => quantile(side, 0.84) - quantile(side, 0.5)));
  const loud = Math.max(...sides.map((side) => quantile(side, 0.95)));
  const wide = [...take(bin - STEADY.bins, bin - gap), ...take(bin + dying, bin + STEADY.bins)];
  const isEven = unevenness(wide) < STEADY.unevenness;
  const isSteady = isEven && quantile(wide, STEADY.loud) < STEADY.times * quantile(wide, 0.5);
  const least = Math.max(LEAST_RATIO * median, median + LEAST_SPREADS * spread, 1.3 * loud);
  return { median, isSteady, threshold: isSteady ? least : Math.max(least, UNSTEADY_TIMES * loud) };
}

/**
 * The sample at which the power changes: start of the run whose excess over 2.5 times the noise, or a
 * fifth of the loudest millisecond (lossy coding spreads a click ahead of itself), sums up highest.
 */
function onsetSample(high: Float32Array, at: number, sampleRateHz: number, noise: number): number {
  const from = Math.max(0, Math.round(at - 0.006 * sampleRateHz));
  const to = Math.min(high.length, Math.round(at + 0.004 * sampleRateHz));
  const ms = Math.round(sampleRateHz / 1000);
  let [run, loudest] = [0, 0];
  for (let k = from; k < to; k++) {
    run += high[k]! ** 2 - (k - ms >= from ? high[k - ms]! ** 2 : 0);
    loudest = Math.max(loudest, run / ms);
  }
  const level = Math.max(2.5 * noise, 0.2 * loudest);
  let [sum, start, best, onset] = [0, from, 0, Math.round(at)];
  for (let k = from; k < to; k++) {
    sum += high[k]! ** 2 - level;
    if (sum <= 0) {
      sum = 0;
      start = k + 1;
    } else if (sum > best) {
      best = sum;
      onset = start;
    }
  }
  return onset;
}

/** A click is at once as loud as it gets and has died away after 10 ms; speech swells, lasts or repeats. */
function isSharpAndShort(
  high: Float32Array,
  onset: number,
  sampleRateHz: number,
  noise: number,
  isSteady: boolean,
): boolean {
  const excess = (fromS: number, toS: number) => {
    const from = Math.round(onset + fromS * sampleRateHz);
    const to = Math.min(high.length, Math.round(onset + toS * sampleRateHz));
    let sum = 0;
    for (let k = Math.max(0, from); k < to; k++) sum += high[k]! ** 2;
    return to > from ? Math.max(0, sum / (to - from) - noise) : 0;
  };
  const first = excess(0, 0.0015);
  for (let laterS = 0.0015; laterS < 0.02; laterS += 0.0015) {
    if (excess(laterS, laterS + 0.0015) > 0.9 * first) return false;
  }
  if (excess(0, 0.002) < LEAST_POWER * noise) return false;
  if (!isSteady && excess(0.008, 0.016) > 0.08 * excess(0, 0.004)) return false;
  return excess(-0.004, -0.0005) < 0.25 * first && excess(0.01, 0.016) < 0.3 * excess(0, 0.006);
}

/** Whether the burst is one of a train, as the pulses of a low voice are: nearly as loud a one before and one after. */
function isInTrain(windows: Float64Array, bin: number, usual: number): boolean {
  const loudest = (from: number, to: number) => {
    let most = 0;
    for (let k = Math.max(0, from); k < Math.min(windows.length, to); k++) most = Math.max(most, windows[k]!);
    return most;
  };
  const enough = usual + 0.3 * (windows[bin]! - usual);
  return loudest(bin - 80, bin - 12) > enough && loudest(bin + 12, bin + 80) > enough;
}

/** Middle over a low tenth of the power in stretches of about 27 ms, which evens out an engine's beat. */
function unevenness(values: readonly number[]): number {
  const means: number[] = [];
  for (let k = 0; k + 9 <= values.length; k += 9) {
    let sum = 0;
    for (let j = 0; j < 9; j++) sum += values[k + j]!;
    means.push(sum);
  }
  return quantile(means, 0.5) / Math.max(quantile(means, 0.1), 1e-15);
}

function peakAfter(high: Float32Array, from: number, count: number): number {
  let peak = 0;
  for (let k = from; k < Math.min(high.length, from + count); k++) peak = Math.max(peak, Math.abs(high[k]!));
  return peak;
}

function quantile(values: number[], share: number): number {
  values.sort((a, b) => a - b);
  return values[Math.min(values.length - 1, Math.floor(share * values.length))] ?? 0;
}
