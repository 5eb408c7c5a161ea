import type { Analysis, LoadAnswer, Verdict, VerdictReason } from "../analysis.js";
import { analyze } from "../analyze.js";
import { type AnalyzeOptions, checkOptions } from "../analyze-options.js";
import { loadPatterns } from "../detection/load-patterns.js";
import { UNTOLD } from "../detection/switching.js";
import type { OnTime } from "../detection/switching-template.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { Recording, SwitchingMark } from "../series/recording.js";
import { depthSoFar } from "./depth-so-far.js";
import { ReadingBuffer } from "./reading-buffer.js";

/** What is known beside the readings. `marks`: those known beforehand; an empty list says that some will come. */
export interface LiveOptions extends AnalyzeOptions {
  /** What the stamps of the readings can tell apart, seconds; left out where that is not known. */
  readonly clockResolutionS?: number;
}

/** What can be said while the recording still runs. */
export interface LiveAnswer {
  readonly readingCount: number;
  /** Time of the newest reading, seconds; null before the first. */
  readonly lastS: number | null;
  readonly loads: readonly LiveLoad[];
  /** Newest full judgement and the time up to which its readings reach; null before the first. Provisional. */
  readonly judged: LiveJudgement | null;
  /** Whether switchings have been completed that the newest full judgement does not hold. */
  readonly waiting: boolean;
}

export interface LiveJudgement {
  readonly toS: number;
  readonly analysis: Analysis;
}

export interface LiveLoad {
  readonly id: string;
  readonly isOn: boolean;
  /** Switchings completed so far. */
  readonly switchingCount: number;
  /** First look at the mean depth, volts; see {@link depthSoFar}. Null where there is none yet. */
  readonly depth: Uncertain | null;
  /** Of the newest full judgement; `undecided` before it. */
  readonly verdict: Verdict;
  /** Null before the first judgement. */
  readonly because: VerdictReason | null;
}

/** A recording judged while it is made. */
export interface LiveAnalysis {
  /**
   * Adds readings to the end and answers.
   *
   * @throws RangeError where times go back, a reading is not finite, or the series of the block differ in length
   */
  push(block: Recording): LiveAnswer;
  /** Adds a switching; it may lie before or after the newest reading. */
  mark(mark: SwitchingMark): LiveAnswer;
  /** What `analyze` says of everything so far, the very same numbers. @throws RangeError as `analyze` does */
  final(): Analysis;
}

/** Readings wanted after a switching before it is judged, seconds. */
const SETTLED_S = 2;
/** Least recording between two full judgements, seconds: at known times, and where times are searched for. */
const PAUSE_S = 20;
const SEARCH_PAUSE_S = 90;
/** The pause grows with the recording, for a judgement costs more then. */
const PAUSE_SHARE = 0.1;

/**
 * Judges a recording block by block.
 *
 * Every push is answered at once from means of 0.1 s. The full judgement is made again only when a switching has been
 * completed since (with unknown times: when the recording has grown), and with pauses, so that it costs little of a
 * processor however long the recording runs. No clock is used: time is that of the readings.
 *
 * @throws RangeError for options that mean nothing
 */
export function liveAnalysis(options: LiveOptions = {}): LiveAnalysis {
  checkOptions(options);
  return new RunningAnalysis(options);
}

class RunningAnalysis implements LiveAnalysis {
  private readonly buffer: ReadingBuffer;
  private readonly marks: SwitchingMark[];
  private judged: LiveJudgement | null = null;
  private judgedCount = 0;

  constructor(private readonly options: LiveOptions) {
    this.buffer = new ReadingBuffer(options.clockResolutionS);
    this.marks = [...(options.marks ?? [])];
  }

  push(block: Recording): LiveAnswer {
    this.buffer.append(block);
    return this.answer();
  }

  mark(mark: SwitchingMark): LiveAnswer {
    checkOptions({ marks: [mark] });
    this.marks.push(mark);
    return this.answer();
  }

  final(): Analysis {
    return analyze(this.buffer.recording(), { ...this.options, marks: this.marks });
  }

  private answer(): LiveAnswer {
    const { timesS } = this.buffer.recording();
    const firstS = timesS[0];
    const lastS = timesS[timesS.length - 1];
    if (timesS.length < 2) {
      return { readingCount: timesS.length, lastS: lastS ?? null, loads: [], judged: null, waiting: false };
    }
    const known = this.marks.filter(({ timeS }) => timeS <= lastS);
    const { patterns } = loadPatterns(known, { startS: firstS, endS: lastS });
    const completed = [...patterns.values()].flat().filter(({ releaseS }) => releaseS + SETTLED_S <= lastS).length;
    const waiting = this.isMarked ? completed !== this.judgedCount : !(this.judged?.toS === lastS);
    if (waiting && this.isDue(firstS, lastS, completed)) {
      this.judged = {
        toS: lastS,
        analysis: analyze(this.buffer.recording(), { ...this.options, marks: known }),
      };
      this.judgedCount = completed;
    }
    const loads = [...patterns].map(([load, onTimes]) => this.load(load, onTimes, lastS));
    const held = this.judged?.analysis;
    return {
      readingCount: timesS.length,
      lastS,
      loads: this.isMarked ? loads : (held?.loads ?? []).map(searchedLoad),
      judged: this.judged,
      waiting: this.isMarked ? completed !== this.judgedCount : this.judged?.toS !== lastS,
    };
  }

  /** Whether marks came or were announced; nothing is searched for then while the recording runs. */
  private get isMarked(): boolean {
    return this.marks.length > 0 || this.options.marks != null;
  }

  private isDue(firstS: number, lastS: number, completed: number): boolean {
    const isSearch = !this.isMarked && !this.buffer.hasCurrent;
    if (this.isMarked && this.judged === null) return completed > 0;
    const sinceS = lastS - (this.judged?.toS ?? firstS);
    return sinceS >= Math.max(isSearch ? SEARCH_PAUSE_S : PAUSE_S, PAUSE_SHARE * (lastS - firstS));
  }

  private load(load: string | null, onTimes: readonly OnTime[], lastS: number): LiveLoad {
    const loads = this.judged?.analysis.loads ?? [];
    const only = this.options.profile?.loads.length === 1 ? this.options.profile.loads[0].id : null;
    const id = load ?? only ?? UNTOLD;
    const answer = loads.find((one) => one.id === id);
    const last = this.marks
      .filter((one) => one.load === load && one.timeS <= lastS)
      .sort(byTime)
      .at(-1);
    return {
      id,
      isOn: last?.action === "on",
      switchingCount: onTimes.length - (last?.action === "on" ? 1 : 0),
      depth: depthSoFar(this.buffer.blocks, onTimes),
      verdict: answer?.verdict ?? "undecided",
      because: answer?.because ?? null,
    };
  }
}

function byTime(a: SwitchingMark, b: SwitchingMark): number {
  return a.timeS - b.timeS;
}

/** A load as the search found it. */
function searchedLoad({ id, switchingCount, depth, verdict, because }: LoadAnswer): LiveLoad {
  return { id, isOn: false, switchingCount, depth, verdict, because };
}
