import { analysisWindows } from "../detection/analysis-window.js";
import type { OnTime } from "../detection/switching-template.js";
import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { SampledTimes } from "../noise/whitening.js";
import type { PlannedReadings } from "./planned-readings.js";

/** Seconds of quiet before the first and after the last switching of a load; the next load waits as long. */
export const QUIET_S = 30;

/** The stretch of readings in which one load will be judged, before anything is read. */
export interface PlannedStretch {
  readonly sampled: SampledTimes & { readonly blockS: number };
  readonly noise: NoiseParameters;
  /** Constant, line, a column for the readings (unknown, so all 0), and the templates; row-major. */
  columns(templates: readonly Float64Array[]): Float64Array;
}

/** Times of the readings, in blocks where the detector will average them. */
export function plannedStretch(readings: PlannedReadings, onTimes: readonly OnTime[]): PlannedStretch {
  const startS = onTimes[0].onsetS - QUIET_S;
  const endS = onTimes[onTimes.length - 1].releaseS + QUIET_S;
  const { intervalS } = readings;
  const count = Math.floor((endS - startS) / intervalS) + 1;
  const sparseS = Math.max(LEAST_BLOCK_S, intervalS);
  const sparse = Float64Array.from(
    { length: Math.floor((endS - startS) / sparseS) + 1 },
    (_, k) => startS + k * sparseS,
  );
  const blockS = analysisWindows(sparse, [{ onTimes }])[0].blockS;
  // Coarser than the detector's own blocks: what is lost is below 0.1 dB, and planning is quick.
  const perBlock = Math.max(blockS, sparseS) / intervalS;
  const stepS = perBlock * intervalS;
  const blockCount = Math.max(2, Math.floor(count / perBlock));
  const timesS = Float64Array.from({ length: blockCount }, (_, k) => startS + (k + 0.5) * stepS);
  const middleS = (timesS[0] + timesS[blockCount - 1]) / 2;
  const halfS = (timesS[blockCount - 1] - timesS[0]) / 2;
  return {
    sampled: {
      timesS,
      readingCounts: new Float64Array(blockCount).fill(perBlock),
      blockS: perBlock > 1 ? stepS : 0,
    },
    noise: readings.noise,
    columns(templates) {
      const width = 3 + templates.length;
      const columns = new Float64Array(blockCount * width);
      for (let i = 0; i < blockCount; i++) {
        columns[i * width] = 1;
        columns[i * width + 1] = (timesS[i] - middleS) / halfS;
        for (let j = 0; j < templates.length; j++) columns[i * width + 3 + j] = templates[j][i];
      }
      return columns;
    },
  };
}

const LEAST_BLOCK_S = 0.2;
