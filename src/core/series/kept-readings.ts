import type { Recording } from "./recording.js";

/** The recording with only the voltage readings of these places, in their order; its current as it is. */
export function keepReadings(recording: Recording, places: ArrayLike<number> & Iterable<number>): Recording {
  const { timesS, voltagesV, readingUncertaintiesV: uncertaintiesV, asidesV } = recording;
  const of = (values: Float64Array) => Float64Array.from(places, (i) => values[i]);
  return {
    ...recording,
    timesS: of(timesS),
    voltagesV: of(voltagesV),
    ...(uncertaintiesV === undefined ? {} : { readingUncertaintiesV: of(uncertaintiesV) }),
    ...(asidesV === undefined ? {} : { asidesV: of(asidesV) }),
  };
}
