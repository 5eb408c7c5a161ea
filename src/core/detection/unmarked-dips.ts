import type { Warning } from "../notes.js";
import type { Recording } from "../series/recording.js";
import type { WorkingSeries } from "../series/working-series.js";
import type { DetectedWindow } from "./detect-in-windows.js";
import { explainedByMarks } from "./explained-by-marks.js";
import { leftoverShapes } from "./load-work.js";
import type { MarkedResponse } from "./marked-response.js";
import { type FoundTrain, type SearchOptions, searchTrains } from "./search.js";
import { searchSeries } from "./search-series.js";
import { dipTemplate, type OnTime } from "./switching-template.js";

/** Dips that stand in a judged stretch away from every load that responded. */
export interface UnmarkedDips {
  readonly trains: readonly FoundTrain[];
  /** Depth of the deepest of them, volts; 0 for none. */
  readonly deepestV: number;
}

export const NO_UNMARKED: UnmarkedDips = { trains: [], deepestV: 0 };

/** One warning for each train, at its first dip. */
export function warningsOf({ trains }: UnmarkedDips): readonly Warning[] {
  return trains.map(({ onTimes }) => ({ code: "dip-without-mark", onsetS: onTimes[0].onsetS }));
}

/** How far a dip may lie from a mark and still be the marked one, seconds. */
const OWN_S = 1;

/**
 * Depth of the deepest dip of a train that stands away from these on-times, volts; 0 for none. A load whose own dips were
 * found is not doubted for them.
 */
export function deepestBesideV({ trains }: UnmarkedDips, own: readonly OnTime[]): number {
  return deepestV(trains.filter((one) => !standsAt(one, own)));
}

/** Whether each dip of a train stands at one of these on-times. */
function standsAt({ onTimes }: FoundTrain, marked: readonly OnTime[]): boolean {
  return onTimes.every((dip) =>
    marked.some(
      ({ onsetS, releaseS }) => Math.abs(dip.onsetS - onsetS) < OWN_S && Math.abs(dip.releaseS - releaseS) < OWN_S,
    ),
  );
}

function deepestV(trains: readonly FoundTrain[]): number {
  return trains.reduce((most, { depthV }) => Math.max(most, depthV), 0);
}

/**
 * Looks for dips that no mark accounts for, anywhere in a recording in which some marked load did not respond, or not
 * clearly.
 *
 * Marks that are late, or that belong to another clock, leave the load's dips standing beside them, and so does something
 * that cycles by itself; then nothing may be concluded from a missing response, or from a faint one. Recordings longer than half an hour are searched in the judged stretches only.
 */
export function unmarkedDips(
  recording: Recording,
  windows: readonly DetectedWindow[],
  { isOpen, responded }: Record<"isOpen" | "responded", (id: string) => boolean>,
  options: Omit<SearchOptions, "cadence">,
): UnmarkedDips {
  const responses = windows.flatMap(({ detection }) => detection.responses);
  if (!responses.some(({ id }) => isOpen(id))) return NO_UNMARKED;
  const whole = searchSeries(recording, options.displayStepV);
  const series =
    whole !== null && spanOf(whole) <= LONGEST_S ? [whole] : windows.map(({ detection }) => detection.design.series);
  const answered = responses.filter(({ id }) => responded(id));
  const answeredTimes = answered.flatMap(({ onTimes }) => onTimes);
  const trains = series.flatMap((one) => {
    const { trains: found, noise } = searchTrains(one, { ...options, cadence: null }, knownIn(one, responses));
    return found.filter(
      (train) =>
        !(
          standsAt(train, answeredTimes) ||
          answered.some((response) => explainedByMarks(one, noise, train, response, options.falseAlarmRate))
        ),
    );
  });
  return { trains, deepestV: deepestV(trains) };
}

const LONGEST_S = 1800;

function spanOf({ timesS }: WorkingSeries): number {
  return timesS[timesS.length - 1] - timesS[0];
}

/** Dips of the loads that did respond, as columns of this series. */
function knownIn(series: WorkingSeries, responses: readonly MarkedResponse[]) {
  const fitted = responses.flatMap(({ refined }) => (refined === null ? [] : [refined]));
  return {
    templates: fitted.flatMap(({ shape, onTimes }) =>
      [shape, ...leftoverShapes(shape)].map((one) => dipTemplate(series.timesS, series.blockS, onTimes, one)),
    ),
    onTimes: fitted.flatMap(({ onTimes }) => [...onTimes]),
  };
}
