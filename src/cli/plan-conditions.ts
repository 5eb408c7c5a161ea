import type { BusProfile, PlanConditions, PlannedReadings, Uncertain } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import type { LogOptions } from "../importers/node.js";

/** What a person said about the readings and the battery of a planned check. */
export interface PlanWishes {
  readonly recording?: string;
  readonly readingNoise?: number;
  readonly readingInterval?: number;
  readonly resistance?: string;
  readonly store?: string;
  readonly falseAlarmRate?: number;
  readonly power?: number;
  readonly markUncertainty?: number;
  readonly temperature?: number;
}

/**
 * What the plan may reckon with: a quiet recording before a stated noise before the history before the meter's division.
 *
 * @throws InputError where an input is at fault.
 */
export async function planConditions(
  profile: BusProfile,
  wishes: PlanWishes,
  logOptions: LogOptions,
): Promise<PlanConditions> {
  if (wishes.recording !== undefined && wishes.readingNoise !== undefined) {
    throw new InputError({
      problem: "--recording and --reading-noise exclude each other",
      remedy: "let the recording tell the noise, or state it",
    });
  }
  const earlier = wishes.store === undefined ? null : await earlierRecordings(profile, wishes.store);
  const source = statedSource(wishes.resistance) ?? earlier?.source ?? null;
  return {
    readings: await plannedReadings(profile, wishes, logOptions, earlier?.noiseV ?? null),
    source,
    ...(wishes.falseAlarmRate === undefined ? {} : { falseAlarmRate: wishes.falseAlarmRate }),
    ...(wishes.power === undefined ? {} : { power: wishes.power }),
    ...(wishes.markUncertainty === undefined ? {} : { timeUncertaintyS: wishes.markUncertainty }),
  };
}

/** Uncertainty of a thermometer beside the battery, kelvin. Common practice, no source. */
const THERMOMETER_K = 3;

/** The told temperature of the battery. */
export function temperatureOf({ temperature }: PlanWishes): { readonly temperatureC?: Uncertain } {
  return temperature === undefined ? {} : { temperatureC: { value: temperature, u: THERMOMETER_K } };
}

async function plannedReadings(
  profile: BusProfile,
  wishes: PlanWishes,
  logOptions: LogOptions,
  earlierNoiseV: number | null,
): Promise<PlannedReadings | null> {
  const { readingsFromQuiet, statedReadings } = await import("../core/index.js");
  const interval = wishes.readingInterval === undefined ? {} : { intervalS: wishes.readingInterval };
  if (wishes.recording === undefined) {
    if (wishes.readingNoise !== undefined) return statedReadings(wishes.readingNoise, profile.meter, interval);
    return statedReadings(earlierNoiseV, profile.meter, { ...interval, from: "history" });
  }
  const { readRecording } = await import("./log-pair.js");
  const { recording } = await readRecording([wishes.recording], undefined, logOptions);
  const readings = readingsFromQuiet(recording);
  if (readings !== null) return readings;
  throw new InputError({
    file: wishes.recording,
    problem: "this recording does not tell the noise: it has too few readings, or all of them are the same",
    remedy: "record at least a minute with no load switched, or state the noise with --reading-noise",
  });
}

/** Reads `12.5,1.6`: milliohms and their standard uncertainty. */
function statedSource(text: string | undefined): PlanConditions["source"] {
  if (text === undefined) return null;
  const [value, u, ...more] = text.split(",").map((part) => (part.trim() === "" ? Number.NaN : Number(part)));
  if (more.length > 0 || u === undefined || !(value! > 0) || !(u >= 0)) {
    throw new InputError({
      problem: `--resistance is '${text}'`,
      remedy: "give milliohms and their standard uncertainty, as in 12.5,1.6",
    });
  }
  return { value: value! / 1000, u: u / 1000, from: "stated" };
}

/** Source resistance and noise of the battery's latest recording in the history; nulls where it tells none. */
async function earlierRecordings(
  profile: BusProfile,
  store: string,
): Promise<{ readonly source: PlanConditions["source"]; readonly noiseV: number | null }> {
  const battery = profile.battery?.id;
  if (battery === undefined) {
    throw new InputError({
      problem: "--store needs to know the battery, and the profile names none",
      remedy: "write battery: { id: ... } into the profile",
    });
  }
  const { latestOfBattery } = await import("./plan-history.js");
  return latestOfBattery(store, battery);
}
