import type { LoadKind, MeterProfile } from "../profile.js";
import { CriticalOffset } from "./critical-offset.js";
import { noiseKnowledge } from "./noise-knowledge.js";
import type { PlannedReadings } from "./planned-readings.js";
import { plannedStretch, QUIET_S } from "./planned-stretch.js";
import { type PredictedDetection, predictedDetection, typicalUncertaintyV } from "./predicted-power.js";
import { evenPattern, onTimesOf, type SwitchingPattern, switchingPattern } from "./switching-pattern.js";

/** Switchings that are tried, fewest first; more tire a person and a battery. */
export const SWITCHING_COUNTS: readonly number[] = [3, 4, 5, 6, 8, 10, 12, 16];
/** Mean times on and off that a hand keeps well. */
const CADENCES_S: readonly number[] = [3, 4, 5, 6, 8];
/** Shortest cadence for a load that must not be on for long. */
const SHORTEST_CADENCE_S = 2;
/** The meter needs this many of its time constants to follow. */
const LAGS_PER_STEP = 4;

/** A pattern with what it will tell. */
export interface Rhythm {
  readonly pattern: SwitchingPattern;
  readonly detection: PredictedDetection;
}

/** Finds rhythms for the readings of one check; what is worked out for one load serves the next. */
export class Rhythms {
  private readonly made = new Map<string, Rhythm | null>();
  private readonly cadences = new Map<string, number>();

  constructor(
    private readonly readings: PlannedReadings,
    private readonly meter: MeterProfile | undefined,
    private readonly timeUncertaintyS: number,
    /** Readings that other loads of the same recording add to what is known of the noise, seconds. */
    private readonly otherLoadsS: number,
  ) {}

  /** The mean time on and off, seconds, that tells most in a given time of switching. */
  bestCadenceS(kind: LoadKind): number {
    const key = bankKey(kind);
    const found = this.cadences.get(key);
    if (found !== undefined) return found;
    const leastS = LAGS_PER_STEP * (this.meter?.lagS ?? 0);
    const free = CADENCES_S.filter((cadenceS) => cadenceS >= leastS);
    const candidates = free.length > 0 ? free : [Math.ceil(leastS)];
    const [best] = candidates
      .map((cadenceS) => {
        const count = Math.max(3, Math.round(COMPARED_S / (2 * cadenceS)));
        const onTimes = onTimesOf(evenPattern(count, cadenceS), 0);
        const load = { kind, onTimes, timeUncertaintyS: this.timeUncertaintyS };
        const u = typicalUncertaintyV(plannedStretch(this.readings, onTimes), load, this.meter);
        // A hand that is off by its usual error spoils short times more.
        return { cadenceS, u: u / Math.max(0.1, 1 - this.timeUncertaintyS / cadenceS) };
      })
      .sort((a, b) => a.u - b.u);
    this.cadences.set(key, best.cadenceS);
    return best.cadenceS;
  }

  /** Cadences from the best one down to the shortest that a load with a time limit can be given. */
  cadencesFor(kind: LoadKind, timeLimitS: number | null): readonly number[] {
    const best = this.bestCadenceS(kind);
    if (timeLimitS === null) return [best];
    return Array.from({ length: best - SHORTEST_CADENCE_S + 1 }, (_, k) => best - k);
  }

  /** The pattern of a count and cadence within a limit, and what it will tell; null where the limit leaves none. */
  rhythm(kind: LoadKind, switchingCount: number, cadenceS: number, timeLimitS: number | null): Rhythm | null {
    const free = this.pattern(switchingCount, cadenceS, null);
    const bound = timeLimitS !== null && (free === null || free.totalOnS > timeLimitS) ? timeLimitS : null;
    const key = `${bankKey(kind)} ${switchingCount} ${cadenceS} ${bound}`;
    const found = this.made.get(key);
    if (found !== undefined) return found;
    const pattern = bound === null ? free : this.pattern(switchingCount, cadenceS, bound);
    const rhythm = pattern === null ? null : { pattern, detection: this.detection(kind, pattern) };
    this.made.set(key, rhythm);
    return rhythm;
  }

  /** Standard uncertainty of the depth with the plain beat, volts: tells which counts are worth a closer look. */
  roughUncertaintyV(kind: LoadKind, switchingCount: number, cadenceS: number): number {
    const key = `${bankKey(kind)} ${switchingCount} ${cadenceS}`;
    let u = this.rough.get(key);
    if (u === undefined) {
      const onTimes = onTimesOf(evenPattern(switchingCount, cadenceS), 0);
      const load = { kind, onTimes, timeUncertaintyS: this.timeUncertaintyS };
      u = typicalUncertaintyV(plannedStretch(this.readings, onTimes), load, this.meter);
      this.rough.set(key, u);
    }
    return u;
  }

  private readonly rough = new Map<string, number>();
  private readonly patterns = new Map<string, SwitchingPattern | null>();

  private pattern(switchingCount: number, cadenceS: number, timeLimitS: number | null): SwitchingPattern | null {
    const key = `${switchingCount} ${cadenceS} ${timeLimitS}`;
    let pattern = this.patterns.get(key);
    if (pattern === undefined) {
      pattern = switchingPattern({ switchingCount, cadenceS, timeLimitS });
      this.patterns.set(key, pattern);
    }
    return pattern;
  }

  private readonly offsets = new Map<string, CriticalOffset>();

  private offsetFor(kind: LoadKind): CriticalOffset {
    const key = bankKey(kind);
    const offset = this.offsets.get(key) ?? new CriticalOffset();
    this.offsets.set(key, offset);
    return offset;
  }

  private detection(kind: LoadKind, pattern: SwitchingPattern): PredictedDetection {
    const onTimes = onTimesOf(pattern, QUIET_S);
    const stretch = plannedStretch(this.readings, onTimes);
    const load = { kind, onTimes, timeUncertaintyS: this.timeUncertaintyS };
    const spanS = pattern.lengthS + 2 * QUIET_S + this.otherLoadsS;
    return predictedDetection(stretch, load, this.meter, {
      knowledge: noiseKnowledge(spanS),
      offset: this.offsetFor(kind),
    });
  }
}

/** Seconds of switching over which rhythms are compared. */
const COMPARED_S = 60;

/** Kinds with the same bank of shapes. */
function bankKey(kind: LoadKind): string {
  return kind === "heater" ? "settling" : "steady";
}
