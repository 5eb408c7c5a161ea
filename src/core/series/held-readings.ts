import type { Assumption } from "../notes.js";
import { keepReadings } from "./kept-readings.js";
import type { Recording } from "./recording.js";

/** A recording without the copies that a logger made of readings which the meter had not renewed. */
export interface WithoutCopies {
  readonly recording: Recording;
  /** Readings that each update of the meter was written down as; 1 where every reading is a new one. */
  readonly copies: number;
}

/** Fewest copies that are taken out, and the share of runs that must keep the beat of the meter. */
const FEWEST_COPIES = 3;
const REGULAR_SHARE = 0.9;
const FEWEST_RUNS = 20;

/**
 * Keeps one reading per update of a meter that renews its value more slowly than the logger asks.
 *
 * Recognised by runs of equal readings whose lengths are whole multiples of one length; a coarse display alone makes runs
 * of any length. A copy is no reading: left in, copies would pass for quiet, slow noise.
 */
export function withoutCopies(recording: Recording): WithoutCopies {
  const starts = runStarts(recording.voltagesV);
  if (starts.length - 1 < FEWEST_RUNS) return { recording, copies: 1 };
  const lengths = Float64Array.from({ length: starts.length - 1 }, (_, k) => starts[k + 1] - starts[k]);
  const inner = lengths.slice(1, -1).sort();
  const beat = inner[Math.floor(0.1 * inner.length)];
  if (beat < FEWEST_COPIES) return { recording, copies: 1 };
  const slack = beat >= 8 ? 1 : 0;
  const regular = inner.filter((length) => Math.abs(length - beat * Math.round(length / beat)) <= slack);
  if (regular.length < REGULAR_SHARE * inner.length) return { recording, copies: 1 };
  const kept: number[] = [];
  for (let k = 0; k < lengths.length; k++) {
    const updates = Math.max(1, Math.round(lengths[k] / beat));
    for (let j = 0; j < updates; j++) kept.push(starts[k] + Math.floor((j * lengths[k]) / updates));
  }
  return {
    recording: keepReadings(recording, kept),
    copies: beat,
  };
}

/** First index of each run of equal values, and the length of the series; none where half of the values are new ones. */
function runStarts(values: Float64Array): number[] {
  let changes = 1;
  for (let i = 1; i < values.length && 2 * changes <= values.length; i++) if (values[i] !== values[i - 1]) changes += 1;
  if (2 * changes > values.length) return [];
  const starts: number[] = [0];
  for (let i = 1; i < values.length; i++) if (values[i] !== values[i - 1]) starts.push(i);
  starts.push(values.length);
  return starts;
}

/** What to say of copies that were left out; nothing where there were none. */
export function copyNote(copies: number, recording: Recording): readonly Assumption[] {
  return copies > 1 ? [{ code: "copies-left-out", copies, readingCount: recording.timesS.length }] : [];
}
