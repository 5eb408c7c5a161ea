import type { NoiseParameters } from "../noise/noise-parameters.js";
import { fitNoise, weakNoisePrior } from "../noise/restricted-likelihood.js";
import type { BusProfile, LoadKind } from "../profile.js";
import { recordingFacts } from "../recording-facts.js";
import type { Recording, SwitchingMark } from "../series/recording.js";
import { medianIntervalS, readingWeights, workingSeries } from "../series/working-series.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { loadPatterns } from "./load-patterns.js";
import { matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** How far the clock of the marks is behind the recording's, or why the dips do not tell it. */
export type MarkClock =
  | { readonly known: true; readonly laterS: number }
  | { readonly known: false; readonly why: "too-slow" | "nothing-answers" | "several-fit" };

/** Chance at the most that dips by chance, or of other loads, set the clock. */
const FALSE_RATE = 0.001;
const STEP_S = 0.5;
const FINE_STEP_S = 0.1;
/** Settings of the clock nearer to each other than this are one. */
const SAME_S = 3;
/** Blocks in which the readings are taken here: a clock needs no finer ones. */
const BLOCK_S = 0.25;
const MOST_BLOCKS = 6000;
/** Templates that are held at a time. */
const AT_ONCE = 256;

/**
 * Finds how many seconds must be added to marks whose clock began at another moment than the recording's: a run sheet that
 * was followed in its order and beat.
 *
 * All loads of the marks are moved together. The best setting must be likelier than no dips at all, and than every other
 * setting, by the number of settings that were tried over the rate of false ones (likelihood ratio, Markov's inequality).
 * Loads that do not answer add nothing; where those that do fit at several settings, none is told.
 *
 * Source: Markov's inequality on the likelihood ratio.
 * @throws RangeError as `analyze` does, for a recording that is none
 */
export function markClock(
  recording: Recording,
  marks: readonly SwitchingMark[],
  profile: BusProfile | null,
): MarkClock {
  const design = designOf(recording, profile);
  if (design === null) return { known: false, why: "too-slow" };
  const trains = trainsOf(marks, profile);
  const { timesS } = design.series;
  const firstS = Math.min(...trains.flatMap(({ onTimes }) => onTimes.map(({ onsetS }) => onsetS)));
  const lastS = Math.max(...trains.flatMap(({ onTimes }) => onTimes.map(({ releaseS }) => releaseS)));
  const [fromS, toS] = [timesS[0] - lastS, timesS[timesS.length - 1] - firstS];
  const count = Math.max(1, Math.ceil((toS - fromS) / STEP_S));
  const shifts = Float64Array.from({ length: count }, (_, k) => fromS + k * STEP_S);
  // Dips swell the noise that is fitted without them: once more beside those of the best setting.
  const first = heightsAt(design, trains, shifts, noiseBeside(design, []));
  const needed = logarithm(count / FALSE_RATE);
  // Judged by the noise that knows of no dips: beside dips picked from noise it would be too small.
  if (first[highest(first)] < needed) return { known: false, why: "nothing-answers" };
  const likely = trains.map((train) => templateOf(design, train, shifts[highest(first)]));
  const noise = noiseBeside(design, likely);
  const [best, next] = distinctPeaks(shifts, heightsAt(design, trains, shifts, noise))
    .map((shiftS) => {
      const near = Float64Array.from({ length: 11 }, (_, k) => shiftS + (k - 5) * FINE_STEP_S);
      const gains = heightsAt(design, trains, near, noise);
      return { shiftS: near[highest(gains)], gain: gains[highest(gains)] };
    })
    .sort((a, b) => b.gain - a.gain);
  // Strong dips leave something of their shape in every gain.
  if (best.gain - (next?.gain ?? 0) < needed + MISFIT_SHARE * best.gain) return { known: false, why: "several-fit" };
  return { known: true, laterS: best.shiftS };
}

/** Share of a gain that a slightly wrong shape or hand may make. Chosen, not measured. */
const MISFIT_SHARE = 0.05;
/** Settings that are looked at closely. */
const MOST_PEAKS = 8;

/** The highest settings of the clock, each at least `SAME_S` from every higher one. */
function distinctPeaks(shifts: Float64Array, gains: Float64Array): readonly number[] {
  const order = Array.from(gains.keys()).sort((a, b) => gains[b] - gains[a]);
  const peaks: number[] = [];
  for (const k of order) {
    if (peaks.length >= MOST_PEAKS) break;
    if (peaks.every((shiftS) => Math.abs(shiftS - shifts[k]) >= SAME_S)) peaks.push(shifts[k]);
  }
  return peaks;
}

function highest(gains: Float64Array): number {
  let best = 0;
  for (let j = 1; j < gains.length; j++) if (gains[j] > gains[best]) best = j;
  return best;
}

function noiseBeside(design: ReadingsDesign, dips: readonly Float64Array[]): NoiseParameters {
  const readings = design.explained(dips.filter((dip) => dip.some((value) => value !== 0)));
  return fitNoise(readings, weakNoisePrior(design.scatterV, design.intervalS)).noise;
}

function designOf(recording: Recording, profile: BusProfile | null): ReadingsDesign | null {
  const { timesS, voltagesV } = recording;
  const facts = recordingFacts(recording, profile);
  const n = timesS.length;
  const spanS = timesS[n - 1] - timesS[0];
  const blockS = Math.max(BLOCK_S, spanS / MOST_BLOCKS);
  if (n < 40 || medianIntervalS(timesS) > 1 || blockS > 1) return null;
  const weights = readingWeights(recording.readingUncertaintiesV);
  const range = { start: 0, end: n };
  return new ReadingsDesign(workingSeries(timesS, voltagesV, range, blockS, facts.displayStepV, weights));
}

interface Train {
  readonly onTimes: readonly OnTime[];
  readonly shape: DipShape;
}

function trainsOf(marks: readonly SwitchingMark[], profile: BusProfile | null): readonly Train[] {
  const timesS = marks.map(({ timeS }) => timeS);
  const { patterns } = loadPatterns(marks, { startS: Math.min(...timesS), endS: Math.max(...timesS) });
  return [...patterns].map(([id, onTimes]) => {
    const kind: LoadKind | null = profile?.loads.find((load) => load.id === id)?.kind ?? null;
    return {
      onTimes,
      shape: {
        shiftS: 0,
        lagS: profile?.meter?.lagS ?? 0.35,
        inrush: kind === "heater" ? 0.5 : 0,
        settleS: 3,
        polarization: 0.3,
        polarizationS: 20,
      },
    };
  });
}

function templateOf(design: ReadingsDesign, { onTimes, shape }: Train, shiftS: number): Float64Array {
  const { timesS, blockS } = design.series;
  return dipTemplate(timesS, blockS, onTimes, { ...shape, shiftS });
}

/** Logarithm of the likelihood of all trains' dips over that of none, at each setting; a rise counts for nothing. */
function heightsAt(
  design: ReadingsDesign,
  trains: readonly Train[],
  shifts: Float64Array,
  noise: NoiseParameters,
): Float64Array {
  const gains = new Float64Array(shifts.length);
  for (const train of trains) {
    for (let at = 0; at < shifts.length; at += AT_ONCE) {
      const some = Array.from(shifts.subarray(at, at + AT_ONCE), (shiftS) => templateOf(design, train, shiftS));
      const { columns } = design.columns([], some);
      const counts = { common: 2, templates: some.length };
      const { scores } = matchedScores(design.series, columns, counts, noise, false);
      for (let j = 0; j < some.length; j++) gains[at + j] += gainOf(scores[j]);
    }
  }
  return gains;
}

/** Spread of the depths that are thought of beforehand, in standard uncertainties. Chosen, not measured. */
const DEPTH_SPREAD = 5;

/** Logarithm of the likelihood of a dip of unknown depth over that of none; 0 where none is likelier, or the voltage rises. */
function gainOf(score: number): number {
  const spread2 = DEPTH_SPREAD * DEPTH_SPREAD;
  if (!(score > 0)) return 0;
  return Math.max(0, (0.5 * score * score * spread2) / (1 + spread2) - 0.5 * logarithm(1 + spread2));
}
