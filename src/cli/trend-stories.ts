import {
  type BatteryTrendOptions,
  CHEMISTRIES,
  compareConcern,
  type FleetScatter,
  type FlightReading,
  fleetScatter,
  judgeBattery,
  type NormalizationNote,
  resistanceSeries,
  withNormalized,
} from "../core/index.js";
import type { BatteryLine, History, HistoryReading, InstallationEntry } from "../history/index.js";
import type { BatteryStory } from "../report/index.js";

const QUANTITIES = [
  "source-resistance",
  "internal-resistance",
  "normalized-resistance",
  "endurance",
  "load-current",
] as const;
const BASELINE_FLIGHTS = 20;
/** Batteries that are asked for the scatter of the fleet; more tell nothing new. */
const FLEET_SAMPLE = 60;

/** What a person set for the trends. */
export type TrendWishes = Pick<BatteryTrendOptions, "resistanceLimit" | "enduranceLimit" | "baselineFlights"> & {
  /** Leave resistances as they were measured. */
  readonly asMeasured?: boolean;
};

/** The scatter that the batteries of the history have in common; null where they do not tell it. */
export function scatterOfFleet(history: History, wishes: TrendWishes): FleetScatter | null {
  const baselineFlights = wishes.baselineFlights ?? BASELINE_FLIGHTS;
  const byBattery = groupedBy(history.firstResistances(baselineFlights, FLEET_SAMPLE));
  const lines = new Map(history.batteries().map((line) => [line.id, line]));
  const histories = [...byBattery].map(([battery, readings]) =>
    resistanceSeries(normalized(readings, lines.get(battery), wishes).readings).points.map((point) =>
      Math.log(point.value),
    ),
  );
  return fleetScatter(histories, baselineFlights);
}

/** One battery's trend in full; null where the history does not hold the battery. */
export function batteryStory(
  history: History,
  battery: string,
  wishes: TrendWishes,
  nowS: number,
): BatteryStory | null {
  const line = history.batteries().find((one) => one.id === battery);
  if (line === undefined) return null;
  const fleet = scatterOfFleet(history, wishes);
  const installations = history.installations(battery);
  const told = ofPresentLife(history.readings(QUANTITIES, battery), installations);
  const { readings, note } = normalized(told, line, wishes);
  const required = requiredLimit(history.requiredEndurances().get(battery));
  const trend = judgeBattery(battery, readings, { ...required, ...wishes, nowS, ...(fleet ? { fleet } : {}) });
  return {
    ...trend,
    ...standing(installations, told),
    normalization: note,
    retiredOn: line.retiredOn,
    flightCount: flightsIn(readings),
  };
}

/** All batteries, the one of most concern first; only their resistance and endurance, for the sake of time. */
export function fleetStories(history: History, wishes: TrendWishes, nowS: number): BatteryStory[] {
  const fleet = scatterOfFleet(history, wishes);
  const installations = groupedBy(history.installations());
  const byBattery = groupedBy(history.readings(QUANTITIES));
  const required = history.requiredEndurances();
  const stories = history.batteries().map((line): BatteryStory => {
    const own = installations.get(line.id) ?? [];
    const told = ofPresentLife(byBattery.get(line.id) ?? [], own);
    const { readings, note } = normalized(told, line, wishes);
    const options = {
      ...requiredLimit(required.get(line.id)),
      ...wishes,
      nowS,
      brief: true,
      ...(fleet ? { fleet } : {}),
    };
    const trend = judgeBattery(line.id, readings, options);
    return {
      ...trend,
      ...standing(own, told),
      normalization: note,
      retiredOn: line.retiredOn,
      flightCount: flightsIn(readings),
    };
  });
  // A battery out of service asks for nothing.
  return stories.sort(
    (a, b) =>
      Number(a.retiredOn !== null) - Number(b.retiredOn !== null) ||
      compareConcern(a.concern, b.concern) ||
      a.battery.localeCompare(b.battery, "en"),
  );
}

function normalized(
  readings: readonly HistoryReading[],
  line: BatteryLine | undefined,
  wishes: TrendWishes,
): { readonly readings: readonly FlightReading[]; readonly note: NormalizationNote | null } {
  if (wishes.asMeasured) {
    return { readings: readings.filter((reading) => reading.quantity !== "normalized-resistance"), note: null };
  }
  return withNormalized(readings, CHEMISTRIES.find((chemistry) => chemistry === line?.chemistry) ?? null);
}

function requiredLimit(minutes: number | undefined): Pick<TrendWishes, "enduranceLimit"> {
  return minutes === undefined ? {} : { enduranceLimit: { value: minutes } };
}

function groupedBy<T extends { readonly battery: string }>(items: readonly T[]): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const group = groups.get(item.battery);
    if (group) group.push(item);
    else groups.set(item.battery, [item]);
  }
  return groups;
}

/** A battery renewed under its old number starts a new life; one that only moved keeps the old one. */
function ofPresentLife(
  readings: readonly HistoryReading[],
  installations: readonly InstallationEntry[],
): HistoryReading[] {
  const renewed = installations.filter((one) => one.newLife);
  const last = renewed[renewed.length - 1];
  if (last === undefined) return [...readings];
  const startS = Date.parse(`${last.installedOn}T00:00:00Z`) / 1000;
  return readings.filter((reading) => reading.atS >= startS);
}

/** Where the battery is by the log of installations, else where its latest flight says. */
function standing(
  installations: readonly InstallationEntry[],
  readings: readonly HistoryReading[],
): Pick<BatteryStory, "aircraft" | "installedOn"> {
  const last = installations[installations.length - 1];
  return {
    aircraft: last?.aircraft ?? readings[readings.length - 1]?.aircraft ?? null,
    installedOn: last?.installedOn ?? null,
  };
}

function flightsIn(readings: readonly FlightReading[]): number {
  return new Set(readings.map((reading) => reading.hash)).size;
}
