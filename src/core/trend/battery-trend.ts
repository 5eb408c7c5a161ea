import { type Concern, compareConcern, concernOf } from "./concern.js";
import { FALSE_CALL_RATE } from "./control-limit.js";
import type { FleetScatter } from "./regime.js";
import { judgeTrend, type TrendJudgement, type TrendLimit, type TrendPoint, type TrendQuantity } from "./trend.js";

/** What a recording may tell of a battery and its loads. */
export type ReadQuantity =
  | "source-resistance"
  | "internal-resistance"
  | "normalized-resistance"
  | "open-circuit"
  | "endurance"
  | "load-current";

/** One quantity of one flight, in SI units. */
export interface FlightReading extends TrendPoint {
  readonly quantity: ReadQuantity;
  readonly load: string | null;
  /** Seconds after the step; only resistances at equal times compare. */
  readonly afterS: number | null;
  /** Which recording it comes from, and where its report lies. */
  readonly hash: string;
  readonly report: string | null;
}

/** Why a reading is shown apart from the trend. */
export type ApartReason = "not-normalized" | "normalized" | "other-time" | "other-quantity" | "without-uncertainty";

/** One quantity of a battery from flight to flight. */
export interface SeriesTrend {
  readonly quantity: TrendQuantity;
  readonly load: string | null;
  /** Resistances only: whether they are brought to the reference temperature and state of charge. */
  readonly normalized: boolean;
  readonly afterS: number | null;
  readonly unit: "Ohm" | "A" | "min";
  readonly worse: "up" | "down";
  readonly points: readonly FlightReading[];
  readonly apart: readonly { readonly reading: FlightReading; readonly reason: ApartReason }[];
  readonly judgement: TrendJudgement;
}

export interface BatteryTrend {
  readonly battery: string;
  /** Resistance first, endurance, then the loads; the order in which a person asks. */
  readonly series: readonly SeriesTrend[];
  readonly concern: Concern;
}

export interface BatteryTrendOptions {
  readonly nowS: number;
  readonly resistanceLimit?: TrendLimit;
  readonly enduranceLimit?: TrendLimit;
  readonly baselineFlights?: number;
  readonly fleet?: FleetScatter;
  /** Leave slope and forecast out where nothing rises: for the view of a whole fleet. */
  readonly brief?: boolean;
}

/**
 * Share of batteries in control that their resistance may call where they are followed in other quantities too; these
 * share the rest, since a heater that goes open or a capacity that fails shows far above its scatter.
 */
const RESISTANCE_RATE = 0.14;

/** Judges all that the flights of one life of a battery tell, in the order of time. */
export function judgeBattery(
  battery: string,
  readings: readonly FlightReading[],
  options: BatteryTrendOptions,
): BatteryTrend {
  const chosen = [resistanceSeries(readings), enduranceSeries(readings), ...currentSeries(readings)];
  const told = chosen.filter((candidate) => candidate.points.length > 0);
  const resistanceRate = told.length > 1 ? RESISTANCE_RATE : FALSE_CALL_RATE;
  const otherRate = (FALSE_CALL_RATE - RESISTANCE_RATE) / Math.max(1, told.length - 1);
  const series = told.map((candidate): SeriesTrend => {
    const limit = limitOf(candidate.quantity, options);
    const judgement = judgeTrend({
      points: candidate.points,
      worse: candidate.worse,
      brief: options.brief ?? false,
      ...(candidate.unit === "Ohm"
        ? { falseCallRate: resistanceRate }
        : { falseCallRate: otherRate, questionRate: otherRate }),
      ...(limit ? { limit } : {}),
      ...(options.baselineFlights === undefined ? {} : { baselineFlights: options.baselineFlights }),
      ...(options.fleet && candidate.unit === "Ohm" ? { fleet: options.fleet } : {}),
    });
    return { ...candidate, judgement };
  });
  const concerns = series.map((each) => concernOf(each.judgement, options.nowS)).sort(compareConcern);
  return { battery, series, concern: concerns[0] ?? { class: 0, measure: -Infinity } };
}

/** More than any resistance, current or endurance in SI units or minutes. */
const LARGEST_VALUE = 1e12;

type Candidate = Omit<SeriesTrend, "judgement">;

/** The resistances that a trend of this battery rests on; all others are set apart with the reason. */
export function resistanceSeries(readings: readonly FlightReading[]): Candidate {
  const all = readings.filter((reading) => reading.quantity.endsWith("resistance"));
  const quantity = chosenResistance(all);
  const ofQuantity = all.filter((reading) => reading.quantity === quantity);
  const afterS = mostCommon(ofQuantity.map((reading) => reading.afterS));
  const points = ofQuantity.filter((reading) => reading.afterS === afterS && usable(reading));
  const flights = new Set(points.map((reading) => reading.hash));
  const apart = all
    .filter((reading) => !flights.has(reading.hash))
    .filter((reading, index, rest) => rest.findIndex((other) => other.hash === reading.hash) === index)
    .map((reading) => ({ reading, reason: apartReason(reading, quantity, afterS) }));
  return {
    quantity: quantity === "source-resistance" ? "source-resistance" : "internal-resistance",
    load: null,
    normalized: quantity === "normalized-resistance",
    afterS,
    unit: "Ohm",
    worse: "up",
    points,
    apart,
  };
}

/** Normalised where half of the flights are; else internal where half are; else what the meter saw. */
function chosenResistance(all: readonly FlightReading[]): ReadQuantity {
  const flights = new Set(all.map((reading) => reading.hash)).size;
  const share = (quantity: ReadQuantity) =>
    new Set(all.filter((reading) => reading.quantity === quantity).map((reading) => reading.hash)).size / flights;
  if (share("normalized-resistance") >= 0.5) return "normalized-resistance";
  return share("internal-resistance") >= 0.5 ? "internal-resistance" : "source-resistance";
}

function apartReason(reading: FlightReading, chosen: ReadQuantity, afterS: number | null): ApartReason {
  if (!usable(reading)) return "without-uncertainty";
  if (reading.quantity === chosen) return reading.afterS === afterS ? "other-quantity" : "other-time";
  if (chosen === "normalized-resistance") return "not-normalized";
  return reading.quantity === "normalized-resistance" ? "normalized" : "other-quantity";
}

function enduranceSeries(readings: readonly FlightReading[]): Candidate {
  const points = readings.filter((reading) => reading.quantity === "endurance" && usable(reading));
  return { ...PLAIN, quantity: "endurance", load: null, unit: "min", points };
}

/** A load whose current falls is going open; a series for each load. */
function currentSeries(readings: readonly FlightReading[]): Candidate[] {
  const currents = readings.filter((reading) => reading.quantity === "load-current" && usable(reading));
  return [...new Set(currents.map((reading) => reading.load))].sort().map((load) => ({
    ...PLAIN,
    quantity: "load-current",
    load,
    unit: "A",
    points: currents.filter((reading) => reading.load === load),
  }));
}

const PLAIN = { normalized: false, afterS: null, worse: "down", apart: [] } as const;

/** A logarithm needs a positive value, and one that its uncertainty does not drown. */
function usable({ value, u }: FlightReading): boolean {
  return value > 0 && value < LARGEST_VALUE && u > 0 && u < 3 * value;
}

function mostCommon(values: readonly (number | null)[]): number | null {
  const counts = new Map<number | null, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? null;
}

/** A fifth above the baseline: the change at which stationary batteries are acted upon; each battery's manual decides. */
const USUAL_RESISTANCE_LIMIT: TrendLimit = { worseBy: 0.2 };

function limitOf(quantity: TrendQuantity, options: BatteryTrendOptions): TrendLimit | undefined {
  if (quantity === "internal-resistance" || quantity === "source-resistance") {
    return options.resistanceLimit ?? USUAL_RESISTANCE_LIMIT;
  }
  return quantity === "endurance" ? options.enduranceLimit : undefined;
}
