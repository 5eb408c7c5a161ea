import { type Answer, unanswered } from "../estimation/answer.js";
import { monteCarlo, symmetricInterval } from "../estimation/monte-carlo.js";
import type { BudgetInput } from "../estimation/uncertainty-budget.js";
import type { Chemistry } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import { normalQuantile } from "../statistics/distribution.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { power, rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";

/** How the usable capacity of a chemistry falls off; each with its standard uncertainty. */
export interface CapacityModel {
  /** Peukert's exponent `k` in `t = H (C / (I H))^k`. */
  readonly peukert: Uncertain;
  /** Loss per kelvin below 25 C. */
  readonly lossPerKelvin: Uncertain;
}

/** Common practice, no source; the uncertainties are wide on purpose. */
export const CAPACITY_MODEL: Record<Chemistry, CapacityModel> = {
  "lead-acid": { peukert: { value: 1.15, u: 0.05 }, lossPerKelvin: { value: 0.008, u: 0.002 } },
  "ni-cd": { peukert: { value: 1.05, u: 0.03 }, lossPerKelvin: { value: 0.004, u: 0.002 } },
  "li-ion": { peukert: { value: 1.03, u: 0.02 }, lossPerKelvin: { value: 0.006, u: 0.003 } },
};

/**
 * Share of the rated capacity that a battery in service still has: from the usual service limit of 80 % to 100 %, as a
 * rectangular distribution. Source of the limit: aeroplane maintenance manual, "80 % of the 30 minute emergency capacity".
 */
const SERVICE_SHARE: readonly [number, number] = [0.8, 1];
/** Temperature taken where none is told. */
const USUAL_C: Uncertain = { value: 20, u: 10 };
/** Standard uncertainty of a rated capacity as a share of it. Common practice, no source. */
const CAPACITY_FRACTION = 0.03;

export interface EnduranceInput {
  readonly capacityAh?: number;
  readonly chemistry?: Chemistry;
  /** Whole current of the bus on battery alone, amperes. */
  readonly busCurrentA?: Uncertain;
  readonly temperatureC?: Uncertain;
  /** Discharge time of the rating, hours; aircraft batteries are rated at one hour. 1 when left out. */
  readonly ratedHours?: number;
  /** Share of the rated capacity still there, lowest and highest; {@link SERVICE_SHARE} when left out. */
  readonly remainingShare?: readonly [number, number];
  readonly requiredMin?: number;
}

export interface Endurance {
  readonly minutes: number;
  readonly uMin: number;
  readonly lowMin: number;
  readonly highMin: number;
  readonly method: "first-order" | "monte-carlo";
  /** All derates together, lowest and highest of the coverage interval. */
  readonly derateLow: number;
  readonly derateHigh: number;
  readonly rows: readonly BudgetInput[];
  readonly temperatureAssumed: boolean;
  /** Whether the required time is met; null where the interval holds it or none is required. */
  readonly meets: boolean | null;
}

/**
 * Minutes that a battery carries the bus, with a coverage interval. Advisory.
 *
 * `t = d H (C / (I H))^k`, the derate d for age and cold on the time, as capacity tests count it. Unknown without capacity, chemistry or current. The
 * interval is drawn where it departs from the first-order one by more than 10 % of its half-width.
 * Source: Peukert 1897 (from memory).
 */
export function endurance(
  input: EnduranceInput,
  options: { readonly coverage: number; readonly random: RandomGenerator; readonly drawCount?: number },
): Answer<Endurance> {
  const { capacityAh, chemistry, busCurrentA } = input;
  if (capacityAh === undefined || !(capacityAh > 0)) return unanswered("no-capacity");
  if (chemistry === undefined) return unanswered("no-chemistry");
  if (busCurrentA === undefined || !(busCurrentA.value > 2 * busCurrentA.u)) return unanswered("no-bus-current");
  const hours = input.ratedHours ?? 1;
  const temperature = input.temperatureC ?? USUAL_C;
  const share = input.remainingShare ?? SERVICE_SHARE;
  const model = CAPACITY_MODEL[chemistry];
  const minutesAt = (capacity: number, current: number, derate: number, peukert: number) =>
    60 * hours * derate * power(capacity / (current * hours), peukert);
  const middleShare = (share[0] + share[1]) / 2;
  const derate = middleShare * coldFactor(temperature.value, model.lossPerKelvin.value);
  const minutes = minutesAt(capacityAh, busCurrentA.value, derate, model.peukert.value);

  const drawDerate = (random: RandomGenerator) =>
    (share[0] + (share[1] - share[0]) * random.uniform()) *
    coldFactor(
      temperature.value + temperature.u * random.normal(),
      model.lossPerKelvin.value + model.lossPerKelvin.u * random.normal(),
    );
  const drawCount = options.drawCount ?? 50_000;
  const derates = monteCarlo(drawDerate, options.random, drawCount);
  const derateInterval = symmetricInterval(derates.sorted, options.coverage);
  const drawn = monteCarlo(
    (random) =>
      minutesAt(
        capacityAh * (1 + CAPACITY_FRACTION * random.normal()),
        Math.max(busCurrentA.value + busCurrentA.u * random.normal(), 0.05 * busCurrentA.value),
        drawDerate(random),
        model.peukert.value + model.peukert.u * random.normal(),
      ),
    options.random,
    drawCount,
  );

  const k = model.peukert.value;
  const hourly = capacityAh / (busCurrentA.value * hours);
  const rows: BudgetInput[] = [
    {
      source: "capacity",
      value: capacityAh,
      unit: "Ah",
      u: CAPACITY_FRACTION * capacityAh,
      sensitivity: (k * minutes) / capacityAh,
    },
    {
      source: "bus-current",
      value: busCurrentA.value,
      unit: "A",
      u: busCurrentA.u,
      sensitivity: (-k * minutes) / busCurrentA.value,
    },
    // The uncertain exponent counts as a derate too.
    {
      source: "derate",
      value: derate,
      unit: "1",
      u: rootSumSquares(derates.u, derate * logarithm(hourly) * model.peukert.u),
      sensitivity: minutes / derate,
    },
  ];
  const uMin = rootSumSquares(...rows.map((row) => row.sensitivity * row.u));
  const half = normalQuantile((1 + options.coverage) / 2) * uMin;
  const interval = symmetricInterval(drawn.sorted, options.coverage);
  const departs = Math.max(Math.abs(interval.low - minutes + half), Math.abs(interval.high - minutes - half));
  const firstOrder = departs <= 0.1 * half;
  const low = firstOrder ? minutes - half : interval.low;
  const high = firstOrder ? minutes + half : interval.high;
  return {
    known: true,
    minutes,
    uMin: firstOrder ? uMin : drawn.u,
    lowMin: low,
    highMin: high,
    method: firstOrder ? "first-order" : "monte-carlo",
    derateLow: derateInterval.low,
    derateHigh: derateInterval.high,
    rows,
    temperatureAssumed: input.temperatureC === undefined,
    meets: meetsRequirement(low, high, input.requiredMin),
  };
}

/** Share of the capacity left in the cold; never below a tenth. */
function coldFactor(temperatureC: number, lossPerKelvin: number): number {
  return Math.max(0.1, 1 - Math.max(0, lossPerKelvin) * Math.max(0, 25 - temperatureC));
}

function meetsRequirement(lowMin: number, highMin: number, requiredMin: number | undefined): boolean | null {
  if (requiredMin === undefined) return null;
  if (lowMin >= requiredMin) return true;
  return highMin < requiredMin ? false : null;
}
