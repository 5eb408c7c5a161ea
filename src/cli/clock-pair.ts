import {
  type AlignmentDoubt,
  alignClocks,
  type CurrentSeries,
  type KnownAlignment,
  LARGEST_COINCIDENCE,
  onRecordingClock,
} from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import type { CurrentLogReading, LogReading } from "../importers/node.js";
import { formatPercent, roundToUncertainty } from "../report/index.js";

/** What a person said about the clocks of two logs. */
export interface ClockWishes {
  /** Seconds to add to the times of the current log, beyond what the two clocks themselves say. */
  readonly currentOffsetS?: number;
  /** Find the offset from the switchings although the clocks tell one. */
  readonly alignClocks?: boolean;
  /** The voltmeter's lag, where the profile tells it. */
  readonly voltageLagS?: number;
}

interface OnOneClock {
  readonly current: CurrentSeries;
  readonly sentence: string;
}

const DAY_S = 86_400;
/** Above this the switchings tell nothing of the rate beyond what is usual for clocks. */
const LARGEST_RATE_DOUBT_PPM = 60;

/**
 * The current on the voltage log's time axis: by what was told, else by the logs' own clocks where both show one, else
 * by the switchings that both show.
 *
 * @throws InputError where the logs do not overlap, or the switchings do not tell how the clocks stand.
 */
export function onOneClock(volts: LogReading, amperes: CurrentLogReading, wishes: ClockWishes): OnOneClock {
  const clocks = byTheirClocks(volts, amperes);
  if (wishes.currentOffsetS !== undefined) {
    const current = moved(amperes.current, (clocks?.shiftS ?? 0) + wishes.currentOffsetS);
    refuseApart(volts, amperes, current);
    const base = clocks === null ? "" : ` beyond what ${clocks.which} say`;
    return {
      current,
      sentence: `${wishes.currentOffsetS} s were added to the times of ${amperes.source}${base}, as you said.`,
    };
  }
  if (clocks === null || wishes.alignClocks === true)
    return byTheirSteps(volts, amperes, clocks?.shiftS ?? null, wishes);
  const current = moved(amperes.current, clocks.shiftS);
  refuseApart(volts, amperes, current);
  return {
    current,
    sentence: `The two logs were brought together by ${clocks.which}, which are taken to agree (--align-clocks finds how they stand from the switchings).`,
  };
}

/** How far the current's axis must be moved by the clocks that both logs show; null where not both show one. */
function byTheirClocks(
  volts: LogReading,
  amperes: CurrentLogReading,
): { readonly shiftS: number; readonly which: string } | null {
  if (volts.startEpochS !== null && amperes.startEpochS !== null) {
    return { shiftS: amperes.startEpochS - volts.startEpochS, which: "their own clocks" };
  }
  if (volts.startClockS === null || amperes.startClockS === null) return null;
  const sameDayS = amperes.startClockS - volts.startClockS;
  // Without dates one of them may have begun before midnight.
  const shiftS = [sameDayS, sameDayS - DAY_S, sameDayS + DAY_S].reduce((best, one) =>
    overlapS(volts, amperes.current, one) > overlapS(volts, amperes.current, best) ? one : best,
  );
  const which =
    volts.startEpochS === null && amperes.startEpochS === null
      ? "their clocks of day, neither of which has a date"
      : "their clocks of day, since one of them has no date";
  return { shiftS, which };
}

function byTheirSteps(
  volts: LogReading,
  amperes: CurrentLogReading,
  clockShiftS: number | null,
  wishes: ClockWishes,
): OnOneClock {
  const { recording } = volts;
  // Where nothing tells the offset, every shift is searched at which the logs overlap at all.
  const startShiftS = clockShiftS ?? recording.timesS[0]! - amperes.current.timesS[0]!;
  const current = moved(amperes.current, startShiftS);
  const spanS = (timesS: Float64Array): number => timesS.at(-1)! - timesS[0]!;
  const found = alignClocks(recording, current, {
    reachS: clockShiftS === null ? spanS(recording.timesS) + spanS(current.timesS) : 3600,
    ...(wishes.voltageLagS === undefined ? {} : { voltageLagS: wishes.voltageLagS }),
  });
  if (!found.known) throw cannotTell(volts, amperes, found.reason);
  if (clockShiftS === null && wishes.alignClocks !== true && holdsZero(found, startShiftS)) {
    const { value, u } = roundToUncertainty(found.offsetS + startShiftS, halfWidthS(found));
    const sentence = `The two logs count their time from the same moment, as ${found.stepCount} steps that both show confirm (offset ${value} s \u00b1 ${u} s, 95 %).`;
    return { current: amperes.current, sentence };
  }
  return {
    current: onRecordingClock(current, found),
    sentence: sentenceOf(volts, amperes, found, startShiftS, clockShiftS),
  };
}

/** Whether times of both logs may count from one moment: within about twice what the readings alone leave open. */
function holdsZero({ offsetS, uOffsetS }: KnownAlignment, startShiftS: number): boolean {
  return Math.abs(offsetS + startShiftS) <= 4 * uOffsetS;
}

/** The longer side of the coverage interval, so that it may be written behind one sign. */
function halfWidthS({ offsetS, lowS, highS }: KnownAlignment): number {
  return Math.max(highS - offsetS, offsetS - lowS);
}

function sentenceOf(
  volts: LogReading,
  amperes: CurrentLogReading,
  found: KnownAlignment,
  startShiftS: number,
  clockShiftS: number | null,
): string {
  // Against what the clocks say, or against times counted from one moment.
  const offsetS = found.offsetS + (clockShiftS === null ? startShiftS : 0);
  const { value, u } = roundToUncertainty(offsetS, halfWidthS(found));
  const side = offsetS < 0 ? "ahead of" : "behind";
  const rate = roundToUncertainty(found.ratePpm, Math.max(found.uRatePpm, 0.1));
  return [
    `The clock of ${amperes.source} is ${value.replace(/^[-\u2212]/, "")} s \u00b1 ${u} s (95 %) ${side} that of ${volts.source}, found from ${found.stepCount} steps that both show`,
    found.uRatePpm < LARGEST_RATE_DOUBT_PPM
      ? `; their rates differ by ${rate.value} \u00b1 ${rate.u} millionths (standard uncertainty).`
      : ".",
    found.sign === 1 ? "" : " The voltage rises with the current, so the clamp sat the other way round.",
    found.coincidence <= LARGEST_COINCIDENCE
      ? ""
      : ` Doubtful: switchings of another run in so even a rhythm would agree as well ${chanceText(found.coincidence)}, so make sure that both logs are of the same run (--current-offset overrules).`,
  ].join("");
}

function chanceText(chance: number): string {
  return chance > 0.5 ? "more often than not" : `in ${formatPercent(chance)} of cases`;
}

const DOUBTS: Readonly<Record<AlignmentDoubt, string>> = {
  "too-few-readings": "there are too few readings to find how the two clocks stand",
  "current-without-steps": "the current never steps, so nothing tells how the two clocks stand",
  "no-shared-event": "the steps of the current are not found in the voltage, so nothing tells how the two clocks stand",
  "too-few-shared-steps": "the two logs share too few steps to tell how their clocks stand",
  "steps-without-partner":
    "the voltage also steps where the current does not, and the rest agrees no better than by chance, so nothing tells how the two clocks stand",
  "two-offsets-fit":
    "the switchings keep so even a rhythm that the two clocks fit at more than one offset, so nothing tells how they stand",
};

function cannotTell(volts: LogReading, amperes: CurrentLogReading, reason: AlignmentDoubt): InputError {
  return new InputError({
    file: amperes.source,
    problem: DOUBTS[reason],
    remedy: `say the seconds to add to its times with --current-offset (0 if it counts from the same moment as ${volts.source}), or log three or more switchings at uneven intervals with both`,
  });
}

function moved(current: CurrentSeries, shiftS: number): CurrentSeries {
  if (shiftS === 0) return current;
  return { timesS: current.timesS.map((timeS) => timeS + shiftS), currentsA: current.currentsA };
}

function overlapS(volts: LogReading, { timesS }: CurrentSeries, shiftS: number): number {
  const { timesS: voltTimesS } = volts.recording;
  return Math.min(voltTimesS.at(-1)!, timesS.at(-1)! + shiftS) - Math.max(voltTimesS[0]!, timesS[0]! + shiftS);
}

function refuseApart(volts: LogReading, amperes: CurrentLogReading, current: CurrentSeries): void {
  if (overlapS(volts, current, 0) > 0) return;
  throw new InputError({
    file: amperes.source,
    problem: "the current log and the voltage log do not overlap in time",
    remedy: "give logs of the same minutes, or let --align-clocks find how their clocks stand from the switchings",
  });
}
