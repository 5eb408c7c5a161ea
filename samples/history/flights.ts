import { createHash } from "node:crypto";
import { type RandomSource, randomSource } from "../simulator/random-source.js";

/** A quantity of a flight as the history's exchange file holds it. */
interface Estimate {
  readonly quantity: string;
  readonly load?: string;
  readonly afterS?: number;
  readonly value: number;
  readonly u: number;
}

/** One simulated flight as the history's exchange file holds it. */
export interface FlightRecording {
  readonly hash: string;
  readonly battery: string;
  readonly aircraft: string;
  readonly bus: string;
  readonly at: string;
  readonly source: string;
  readonly temperatureC?: number;
  readonly stateOfCharge?: number;
  readonly requiredEnduranceMin: number;
  readonly remark?: string;
  readonly estimates: readonly Estimate[];
  readonly answers: readonly { load: string; name: string; verdict: string; pValue: number; switchingCount: number }[];
}

/** What one battery does from flight to flight. */
export interface BatteryCourse {
  readonly battery: string;
  readonly flightCount: number;
  /** First flight, ISO 8601. */
  readonly from: string;
  /** Internal resistance at 20 degrees and full charge by flight number, from 1. */
  readonly resistanceOhm: (flight: number) => number;
  /** Resistance that a loose terminal adds, by flight number. */
  readonly terminalOhm: (flight: number) => number;
  readonly remark: (flight: number) => string | null;
  readonly enduranceMin: (flight: number) => number;
  /** Flights for which nobody wrote the temperature down. */
  readonly withoutTemperature: readonly number[];
}

const DAY_MS = 86_400_000;
const REFERENCE_K = 293.15;
/** Temperature law of the simulated battery, R grows as exp(B (1/T - 1/T0)); not quite the guide value. */
const TRUE_B_K = 700;
/** Share by which an empty battery's resistance exceeds a full one's. */
const CHARGE_SHARE = 0.4;
const PATH_OHM = 0.003;
const FLIGHT_SCATTER = 0.03;

const LOADS = [
  { id: "probe-heat-a", name: "Probe heat A", currentA: 5.7, uA: 0.22 },
  { id: "stall-vane-heat", name: "Stall-vane heat", currentA: 3.2, uA: 0.16 },
] as const;

/** The flights of one battery; the same for the same seed. */
export function flightsOf(course: BatteryCourse, seed: number): FlightRecording[] {
  const random = randomSource(seed);
  let dayMs = Date.parse(course.from);
  return Array.from({ length: course.flightCount }, (_, index) => {
    const flight = flightOf(course, index + 1, dayMs, random);
    dayMs += DAY_MS * (3 + Math.floor(5 * random.uniform()));
    return flight;
  });
}

function flightOf(course: BatteryCourse, flight: number, dayMs: number, random: RandomSource): FlightRecording {
  const at = new Date(dayMs + 36_000_000 + Math.floor(14_400 * random.uniform()) * 1000);
  // An ice cap through its summer: mildest in the middle of July.
  const season = Math.cos((2 * Math.PI * (at.getTime() - Date.UTC(2026, 6, 15))) / (365.25 * DAY_MS));
  const temperatureC = Math.round(-12 + 9 * season + 3 * random.normal());
  const charge = Math.round(100 * Math.min(1, 0.9 + 0.05 * random.normal())) / 100;
  const kelvin = temperatureC + 273.15;
  const chargeFactor = 1 + CHARGE_SHARE * (1 - charge);
  const temperatureFactor = Math.exp(TRUE_B_K * (1 / kelvin - 1 / REFERENCE_K));
  const trueOhm = course.resistanceOhm(flight) * temperatureFactor * chargeFactor + course.terminalOhm(flight);
  const uSource = 0.03 * (trueOhm + PATH_OHM);
  const sourceOhm = (trueOhm + PATH_OHM) * Math.exp(FLIGHT_SCATTER * random.normal());
  const internalOhm = sourceOhm - PATH_OHM;
  const uInternal = Math.hypot(uSource, 0.0005);
  const known = !course.withoutTemperature.includes(flight);
  const enduranceMin = course.enduranceMin(flight) * Math.exp(0.04 * random.normal());
  const remark = course.remark(flight);
  const id = `${course.battery}-${String(flight).padStart(2, "0")}`;
  return {
    hash: createHash("sha256").update(`simulated flight ${id}`).digest("hex"),
    battery: course.battery,
    aircraft: "ICE-2",
    bus: "essential",
    at: at.toISOString().replace(".000Z", "Z"),
    source: `simulated-${id}.csv`,
    ...(known ? { temperatureC, stateOfCharge: charge } : {}),
    requiredEnduranceMin: 30,
    ...(remark === null ? {} : { remark }),
    estimates: [
      { quantity: "source-resistance", afterS: 1, value: rounded(sourceOhm, 6), u: rounded(uSource, 6) },
      { quantity: "internal-resistance", afterS: 1, value: rounded(internalOhm, 6), u: rounded(uInternal, 6) },
      { quantity: "endurance", value: rounded(enduranceMin, 1), u: rounded(0.09 * enduranceMin, 1) },
      ...LOADS.map(({ id: load, currentA, uA }) => ({
        quantity: "load-current",
        load,
        value: rounded(currentA + uA * random.normal(), 2),
        u: uA,
      })),
    ],
    answers: LOADS.map(({ id: load, name }) => ({ load, name, verdict: "responded", pValue: 1e-6, switchingCount: 4 })),
  };
}

function rounded(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}
