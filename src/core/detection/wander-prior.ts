import type { NoiseParameters } from "../noise/noise-parameters.js";
import { type NoisePrior, weakNoisePrior } from "../noise/restricted-likelihood.js";
import type { Recording } from "../series/recording.js";
import { logarithm } from "../statistics/portable-exponential.js";
import type { AnalysisWindow } from "./analysis-window.js";
import { TYPICAL_LAG_S } from "./found-train.js";
import { ReadingsDesign } from "./readings-design.js";
import { searchNoise } from "./search-noise.js";
import { searchSeries } from "./search-series.js";
import { dipTemplate } from "./switching-template.js";

/** So many times a window must its recording be, for the rest to tell more of slow wander than the window itself. */
const FEWEST_WINDOWS = 3;

/** A recording may wander more or less about its switchings than elsewhere: by about this much, as a logarithm. Chosen, not measured. */
const SD_LOG = 1;

/**
 * Noise of the whole recording beside its switched loads, where the recording is much longer than what is judged of it;
 * null elsewhere. `searched` is that noise where a search has found it already.
 */
export function wholeRecordingNoise(
  recording: Recording,
  windows: readonly AnalysisWindow[],
  displayStepV: number | null,
  searched: NoiseParameters | undefined,
): NoiseParameters | null {
  const { timesS } = recording;
  const spanS = timesS[timesS.length - 1] - timesS[0];
  const judgedS = windows.reduce((sum, { range }) => sum + Math.max(0, timesS[range.end - 1] - timesS[range.start]), 0);
  if (judgedS === 0 || spanS < FEWEST_WINDOWS * judgedS) return null;
  if (searched !== undefined) return searched;
  const series = searchSeries(recording, displayStepV);
  if (series === null) return null;
  const shape = { shiftS: 0, lagS: TYPICAL_LAG_S, inrush: 0.3, settleS: 2.5, polarization: 0.3, polarizationS: 20 };
  const templates = windows.flatMap(({ parts }) =>
    parts.map(({ onTimes }) => dipTemplate(series.timesS, series.blockS, onTimes, shape)),
  );
  return searchNoise(new ReadingsDesign(series), templates).noise;
}

/** Prior of a window's noise: weak, but for the wander where the whole recording tells it. */
export function windowPrior(design: ReadingsDesign, whole: NoiseParameters | null): NoisePrior {
  const weak = weakNoisePrior(design.scatterV, design.intervalS);
  if (whole === null) return weak;
  const meanLogs = Float64Array.from(weak.meanLogs);
  const sdLogs = Float64Array.from(weak.sdLogs);
  meanLogs[3] = logarithm(whole.walkVPerSqrtS);
  meanLogs[4] = logarithm(whole.bendVPerS15);
  sdLogs[3] = SD_LOG;
  sdLogs[4] = SD_LOG;
  return { meanLogs, sdLogs };
}
