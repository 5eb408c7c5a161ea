import type { CurrentSeries, Recording } from "./recording.js";
import { withoutHeldReadings } from "./step-windows.js";
import { medianIntervalS } from "./working-series.js";

/** Both series as the alignment reads them. */
export interface SeriesPair {
  readonly voltageTimesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly currentTimesS: Float64Array;
  readonly currentsA: Float64Array;
  readonly voltageIntervalS: number;
  readonly currentIntervalS: number;
  readonly slowerS: number;
  /** Distances of the rows as they were logged. */
  readonly voltageRowS: number;
  readonly currentRowS: number;
}

/** Readings that only repeat are left out; those that came faster than a tenth of the slower interval are joined to block means. */
export function seriesPair(recording: Recording, current: CurrentSeries): SeriesPair {
  const voltage = withoutHeldReadings(recording.timesS, recording.voltagesV);
  const clamp = withoutHeldReadings(current.timesS, current.currentsA);
  const slowerS = Math.max(medianIntervalS(voltage.timesS), medianIntervalS(clamp.timesS), 1e-6);
  const [voltageTimesS, voltagesV] = blocked(voltage.timesS, voltage.values, slowerS / 10);
  const [currentTimesS, currentsA] = blocked(clamp.timesS, clamp.values, slowerS / 10);
  return {
    voltageTimesS,
    voltagesV,
    currentTimesS,
    currentsA,
    voltageIntervalS: Math.max(1e-6, medianIntervalS(voltageTimesS)),
    currentIntervalS: Math.max(1e-6, medianIntervalS(currentTimesS)),
    slowerS,
    voltageRowS: medianIntervalS(recording.timesS),
    currentRowS: medianIntervalS(current.timesS),
  };
}

function blocked(timesS: Float64Array, values: Float64Array, blockS: number): readonly [Float64Array, Float64Array] {
  if (medianIntervalS(timesS) >= blockS / 2) return [timesS, values];
  const times: number[] = [];
  const means: number[] = [];
  for (let i = 0; i < timesS.length; ) {
    const endS = timesS[i]! + blockS;
    let [time, value, count] = [0, 0, 0];
    for (; i < timesS.length && timesS[i]! < endS; i += 1) {
      time += timesS[i]!;
      value += values[i]!;
      count += 1;
    }
    times.push(time / count);
    means.push(value / count);
  }
  return [Float64Array.from(times), Float64Array.from(means)];
}
