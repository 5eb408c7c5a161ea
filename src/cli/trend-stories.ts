import {
  type BatteryTrendOptions,
  compareConcern,
  type FleetScatter,
  type FlightReading,
  fleetScatter,
  judgeBattery,
  resistanceSeries,
} from "../core/index.js";
import type { History, HistoryReading, InstallationEntry } from "../history/index.js";
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
export type TrendWishes = Pick<BatteryTrendOptions, "resistanceLimit" | "enduranceLimit" | "baselineFlights">;

/** The scatter that the batteries of the history have in common; null where they do not tell it. */
export function scatterOfFleet(history: History, baselineFlights = BASELINE_FLIGHTS): FleetScatter | null {
  const byBattery = groupedBy(history.firstResistances(baselineFlights, FLEET_SAMPLE));
  const histories = [...byBattery.values()].map((readings) =>
    resistanceSeries(readings).points.map((point) => Math.log(point.value)),
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
  const fleet = scatterOfFleet(history, wishes.baselineFlights);
  const installations = history.installations(battery);
  const readings = ofPresentLife(history.readings(QUANTITIES, battery), installations);
  const required = requiredLimit(history.requiredEndurances().get(battery));
  const trend = judgeBattery(battery, readings, { ...required, ...wishes, nowS, ...(fleet ? { fleet } : {}) });
  return {
    ...trend,
    ...standing(installations, readings),
    retiredOn: line.retiredOn,
    flightCount: flightsIn(readings),
  };
}

/** All batteries, the one of most concern first; only their resistance and endurance, for the sake of time. */
export function fleetStories(history: History, wishes: TrendWishes, nowS: number): BatteryStory[] {
  const fleet = scatterOfFleet(history, wishes.baselineFlights);
  const installations = groupedBy(history.installations());
  const byBattery = groupedBy(history.readings(QUANTITIES));
  const required = history.requiredEndurances();
  const stories = history.batteries().map((line): BatteryStory => {
    const own = installations.get(line.id) ?? [];
    const readings = ofPresentLife(byBattery.get(line.id) ?? [], own);
    const options = {
      ...requiredLimit(required.get(line.id)),
      ...wishes,
      nowS,
      brief: true,
      ...(fleet ? { fleet } : {}),
    };
    const trend = judgeBattery(line.id, readings, options);
    return { ...trend, ...standing(own, readings), retiredOn: line.retiredOn, flightCount: flightsIn(readings) };
  });
  // A battery out of service asks for nothing.
  return stories.sort(
    (a, b) =>
      Number(a.retiredOn !== null) - Number(b.retiredOn !== null) ||
      compareConcern(a.concern, b.concern) ||
      a.battery.localeCompare(b.battery, "en"),
  );
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
