import { ReadingsDesign } from "../detection/readings-design.js";
import { noiseOfMinutes, partOf } from "../detection/search-noise.js";
import { searchSeries } from "../detection/search-series.js";
import { fromLogs, type NoiseParameters } from "../noise/noise-parameters.js";
import { fitNoise, weakNoisePrior } from "../noise/restricted-likelihood.js";
import type { MeterProfile } from "../profile.js";
import { recordingFacts } from "../recording-facts.js";
import type { Recording } from "../series/recording.js";
import { medianOf, type WorkingSeries } from "../series/working-series.js";
import { power, rootSumSquares } from "../statistics/portable-power.js";

/** What the readings of the check are expected to be like. */
export interface PlannedReadings {
  readonly noise: NoiseParameters;
  readonly intervalS: number;
  /** Digit of a display that rounds; null where nothing does. */
  readonly displayStepV: number | null;
  /** Noise that the readings surely have before a display rounds them, volts. */
  readonly ownNoiseV: number;
  readonly from: "recording" | "history" | "stated" | "division";
}

/** A tenth of a division is what an eye or a camera tells apart. Common practice, no source. */
const SHARE_OF_DIVISION = 0.1;
/** Readings per second of a filmed needle or a plain logger. */
const USUAL_INTERVAL_S = 0.1;

/**
 * Noise of a recording on which no load was switched; null where it has too few readings, or its meter never moved.
 *
 * @throws RangeError as `analyze` does, for a recording that is none.
 */
export function readingsFromQuiet(recording: Recording): PlannedReadings | null {
  const facts = recordingFacts(recording, null);
  const series = searchSeries(recording, facts.displayStepV);
  if (series === null || facts.frozen || series.timesS.length < FEWEST_READINGS) return null;
  return {
    noise: quietNoise(series),
    intervalS: 1 / facts.summary.sampleRateHz,
    displayStepV: facts.displayStepV,
    ownNoiseV: facts.ownNoiseV,
    from: "recording",
  };
}

const FEWEST_READINGS = 50;
/** So many readings or blocks are fitted at once: enough to tell slow wander, and quick. */
const READINGS_PER_FIT = 6000;
const MOST_FITS = 3;

/**
 * Noise of readings with no dips among them: the one that wanders more of what long pieces tell and what short ones do.
 *
 * Short pieces hide true wander. But the check is as short as they are, and the detector will not be able to rule out the
 * wander that they leave open.
 */
function quietNoise(series: WorkingSeries): NoiseParameters {
  const long = noiseOfLongPieces(series);
  const short = noiseOfMinutes(new ReadingsDesign(series));
  return wanderV(short) > wanderV(long) ? short : long;
}

/** How far the level moves in the ten seconds of an on-time and its surroundings, volts. */
function wanderV({ walkVPerSqrtS, bendVPerS15 }: NoiseParameters): number {
  return rootSumSquares(walkVPerSqrtS * Math.sqrt(10), (bendVPerS15 * power(10, 1.5)) / Math.sqrt(3));
}

function noiseOfLongPieces(series: WorkingSeries): NoiseParameters {
  const count = series.timesS.length;
  const pieceCount = Math.min(MOST_FITS, Math.ceil(count / READINGS_PER_FIT));
  const logs = Array.from({ length: pieceCount }, (_, k) => {
    const start = Math.floor((k * count) / pieceCount);
    const end = Math.min(start + READINGS_PER_FIT, Math.floor(((k + 1) * count) / pieceCount));
    const design = new ReadingsDesign(partOf(series, start, end));
    return fitNoise(design.explained([]), weakNoisePrior(design.scatterV, design.intervalS)).logs;
  });
  return fromLogs(Float64Array.from(logs[0], (_, k) => medianOf(Float64Array.from(logs, (piece) => piece[k]))));
}

/**
 * Readings of a stated noise, in the mixture of white noise, slower noise and wander that is usual; null where neither a
 * noise nor the meter's division is known.
 */
export function statedReadings(
  noiseV: number | null,
  meter: MeterProfile | undefined,
  given: { readonly intervalS?: number; readonly from?: "history" | "stated" } = {},
): PlannedReadings | null {
  const division = meter?.smallestDivisionV;
  const scatterV = noiseV ?? (division === undefined ? null : SHARE_OF_DIVISION * division);
  if (scatterV === null) return null;
  const intervalS = given.intervalS ?? USUAL_INTERVAL_S;
  return {
    noise: fromLogs(weakNoisePrior(scatterV, intervalS).meanLogs),
    intervalS,
    displayStepV: null,
    ownNoiseV: scatterV,
    from: noiseV === null ? "division" : (given.from ?? "stated"),
  };
}
