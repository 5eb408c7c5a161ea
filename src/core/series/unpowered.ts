import type { Warning } from "../notes.js";
import { keepReadings } from "./kept-readings.js";
import type { Recording } from "./recording.js";

/** A recording without the stretches in which the bus had no power. */
export interface WithoutUnpowered {
  readonly recording: Recording;
  /** What was left out: how many stretches, how long together, and when the last one ended; null where nothing was. */
  readonly unpowered: { readonly stretchCount: number; readonly totalS: number; readonly endS: number } | null;
}

/** Share of its usual voltage below which a bus has no power: no load that a battery can start with pulls it so far. Chosen. */
const SHARE = 0.5;
/** The usual voltage is one that a tenth of the readings reach. */
const USUAL_SHARE = 0.9;
const LEAST_USUAL_V = 1;
/** Fewer readings in a row are a fault of the logger, not a bus without power. */
const FEWEST = 3;
const SAMPLED = 1000;
/** What a needle, and loads that start with the bus, take to come to rest after power comes, seconds; and before it is gone. Chosen. */
const AFTER_S = 2;
const BEFORE_S = 0.5;

/**
 * Leaves out readings of a bus without power, as before the battery is switched on, and those about the change. A rise from
 * nothing to 24 V is no drift and no dip: it would drown everything else.
 */
export function withoutUnpowered(recording: Recording): WithoutUnpowered {
  const { timesS, voltagesV } = recording;
  const limitV = SHARE * usualVoltageV(voltagesV);
  const whole: WithoutUnpowered = { recording, unpowered: null };
  if (!(limitV > SHARE * LEAST_USUAL_V) || timesS.length !== voltagesV.length) return whole;
  const stretches = stretchesBelow(recording, limitV);
  if (stretches.length === 0) return whole;
  const kept: number[] = [];
  let at = 0;
  for (let i = 0; i < timesS.length; i++) {
    while (at < stretches.length && timesS[i] > stretches[at].toS) at++;
    if (at === stretches.length || timesS[i] < stretches[at].fromS) kept.push(i);
  }
  if (kept.length < 2) return whole;
  const [startS, endS] = [timesS[0], timesS[timesS.length - 1]];
  const lengthsS = stretches.map(({ fromS, toS }) => Math.min(toS, endS) - Math.max(fromS, startS));
  return {
    recording: keepReadings(recording, kept),
    unpowered: {
      stretchCount: stretches.length,
      totalS: lengthsS.reduce((sum, lengthS) => sum + lengthS, 0),
      endS: Math.min(stretches[stretches.length - 1].toS, endS),
    },
  };
}

/** The warning for what was left out. */
export function unpoweredWarning(unpowered: WithoutUnpowered["unpowered"]): readonly Warning[] {
  return unpowered === null ? [] : [{ code: "bus-unpowered", ...unpowered }];
}

/** Stretches of readings below the limit, with what lies about them; lone ones are a logger's, and judged as outliers. */
function stretchesBelow({ timesS, voltagesV }: Recording, limitV: number): { fromS: number; toS: number }[] {
  const stretches: { fromS: number; toS: number }[] = [];
  let from = 0;
  for (let i = 0; i <= voltagesV.length; i++) {
    if (i < voltagesV.length && voltagesV[i] < limitV) continue;
    if (i - from >= FEWEST) {
      const fromS = timesS[from] - BEFORE_S;
      const toS = timesS[i - 1] + AFTER_S;
      const last = stretches[stretches.length - 1];
      if (last !== undefined && fromS <= last.toS) last.toS = toS;
      else stretches.push({ fromS, toS });
    }
    from = i + 1;
  }
  return stretches;
}

function usualVoltageV(voltagesV: Float64Array): number {
  const stride = Math.ceil(voltagesV.length / SAMPLED);
  const some = Float64Array.from(
    { length: Math.ceil(voltagesV.length / stride) },
    (_, k) => voltagesV[k * stride],
  ).sort();
  return some[Math.floor(USUAL_SHARE * some.length)] ?? 0;
}
