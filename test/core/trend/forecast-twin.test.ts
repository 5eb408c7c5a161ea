import { describe, expect, it } from "vitest";
import { lagOneAutocorrelation } from "../../../src/core/statistics/autocorrelation.js";
import { studentTQuantile } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { correlationFactor, flightCorrelation } from "../../../src/core/trend/flight-correlation.js";
import { type LimitForecast, limitForecast } from "../../../src/core/trend/forecast.js";

type Course = {
  readonly crossing: number;
  readonly onset: number;
  readonly squares: number;
  readonly residuals: readonly number[];
};
const squaresOf = (residuals: readonly number[]) => residuals.reduce((sum, r) => sum + r * r, 0);
function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/** Every course that is flat to a flight and then straight to the limit at a moment: the level by regression. */
function coursesOf(times: readonly number[], readings: readonly number[], limit: number): Course[] {
  const count = times.length;
  const stride = Math.max(1, Math.ceil((count - 6) / 24));
  return Array.from({ length: 160 }, (_, step): Course => {
    // From half the record to sixteen times it, evenly in the logarithm.
    const crossing = 0.5 * 32 ** (step / 159);
    const courses: Course[] = [];
    for (let onset = 0; onset <= count - 6; onset += stride) {
      if (times[onset]! > crossing - 0.05) continue;
      const shares = times.map((t) => Math.max(0, t - times[onset]!) / (crossing - times[onset]!));
      const weight = squaresOf(shares.map((share) => 1 - share));
      const level = readings.reduce((sum, y, k) => sum + (1 - shares[k]!) * (y - limit * shares[k]!), 0) / weight;
      if (level >= limit) continue;
      const residuals = readings.map((y, k) => y - level * (1 - shares[k]!) - limit * shares[k]!);
      courses.push({ crossing, onset, squares: squaresOf(residuals), residuals });
    }
    const none = { crossing, onset: 0, squares: Number.POSITIVE_INFINITY, residuals: [] };
    return courses.reduce((best, one) => (one.squares < best.squares ? one : best), none as Course);
  });
}
const bestOf = (courses: readonly Course[]) => courses.reduce((best, one) => (one.squares < best.squares ? one : best));

function byHand(
  moments: readonly number[],
  logReadings: readonly number[],
  limit: number,
  coverage: number,
): LimitForecast {
  const count = moments.length;
  if (count < 12) return { known: false, reason: "too-few-flights", notBefore: null, moreFlights: 12 - count };
  const span = moments[count - 1]! - moments[0]!;
  const times = moments.map((moment) => (moment - moments[0]!) / span);
  // Outlying flights are drawn in to 2.5 scatters about a first fit.
  const rough = bestOf(coursesOf(times, logReadings, limit));
  const falls: LimitForecast = { known: false, reason: "no-rise", notBefore: null, moreFlights: null };
  if (rough.residuals.length === 0) return falls;
  const reach = 2.5 * 1.4826 * middle(rough.residuals.map(Math.abs));
  const readings = logReadings.map((y, k) => {
    const off = rough.residuals[k]!;
    return Math.abs(off) > reach ? y - off + Math.sign(off) * reach : y;
  });
  const courses = coursesOf(times, readings, limit);
  const best = bestOf(courses);
  if (best.residuals.length === 0) return falls;
  const correlation = flightCorrelation(lagOneAutocorrelation(Float64Array.from(best.residuals)), count / 3);
  const factor = correlationFactor(correlation);
  const t = studentTQuantile(0.5 + coverage / 2, Math.max(2, count / factor - 3));
  const allowed = (t * t * factor * best.squares) / Math.max(2, count - 3 * factor);
  const within = courses.map((one, k) => (one.squares - best.squares <= allowed ? k : -1)).filter((k) => k >= 0);
  const [low, high] = [within[0]!, within.at(-1)!];
  const at = (spans: number) => moments[0]! + span * spans;
  const half = (a: number, b: number) => (courses[a]!.crossing + (courses[b] ?? courses[a]!).crossing) / 2;
  const notBefore = at(half(low, low - 1));
  const level = readings.reduce((sum, y) => sum + y, 0) / count;
  const gain = squaresOf(readings.map((y) => y - level)) - best.squares;
  if (gain <= allowed) {
    // Evidence grows with the cube of the flights since the rise began.
    const ratio = allowed / Math.max(1e-9, gain);
    const moreFlights = ratio > 64 ? null : Math.ceil((count - best.onset) * (Math.cbrt(ratio) - 1)) + 1;
    return { known: false, reason: moreFlights === null ? "no-rise" : "too-few-flights", notBefore, moreFlights };
  }
  if (best.crossing > 4 || high === 159) return { known: false, reason: "too-far-ahead", notBefore, moreFlights: null };
  return { known: true, at: at(best.crossing), low: notBefore, high: at(half(high, high + 1)), coverage };
}

/** A record that rises or not, straight or from some flight on, its flights like each other or not, some far off. */
function recordOf(seed: number) {
  const random = randomGenerator(seed);
  const pick = <T>(options: readonly T[]) => options[Math.floor(random.uniform() * options.length)]!;
  const count = pick([11, 12, 13, 20, 40, 90]);
  const onset = pick([0, 0, 0.5, 0.8]);
  const rise = pick([-0.2, 0, 0.05, 0.2, 0.5]);
  const kept = pick([0, 0.5]);
  let moment = 1000 * random.uniform();
  let wander = 0;
  const moments: number[] = [];
  const readings: number[] = [];
  for (let k = 0; k < count; k++) {
    moment += 0.2 + random.uniform();
    wander = kept * wander + Math.sqrt(1 - kept * kept) * random.normal();
    const share = Math.max(0, k / count - onset) / (1 - onset);
    moments.push(moment);
    readings.push(rise * share + 0.03 * wander + (random.uniform() < 0.04 ? 0.4 : 0));
  }
  return { moments, readings, limit: pick([0.3, 0.6, 1.5]), coverage: pick([0.95, 0.8]) };
}

/** A record about its limit that comes down more often than it rises, some flights far above. */
function aboutLimit(seed: number) {
  const random = randomGenerator(seed);
  const count = 12 + Math.floor(20 * random.uniform());
  const [above, fall] = [0.15 * random.uniform() - 0.05, 0.3 * (random.uniform() - 0.3)];
  let moment = 0;
  const moments: number[] = [];
  const readings: number[] = [];
  for (let k = 0; k < count; k++) {
    moment += 0.2 + random.uniform();
    const far = random.uniform() < 0.08 ? 0.6 * (random.uniform() - 0.3) : 0;
    moments.push(moment);
    readings.push(above + fall * (1 - k / count) + 0.05 * random.normal() + far);
  }
  return { moments, readings, limit: 0, coverage: 0.95 };
}

/** Holds each record against the courses in turn; how many there were of each kind. */
function compared(records: readonly ReturnType<typeof recordOf>[]): ReadonlyMap<string, number> {
  const seen = new Map<string, number>();
  records.forEach(({ moments, readings, limit, coverage }, k) => {
    const request = { moments, logReadings: readings, logLimit: limit };
    const found = limitForecast(coverage === 0.95 ? request : { ...request, coverage });
    const hand = byHand(moments, readings, limit, coverage);
    const kind = hand.known ? "known" : hand.reason;
    seen.set(kind, (seen.get(kind) ?? 0) + 1);
    expect(Object.keys(found).sort(), `record ${k + 1}`).toEqual(Object.keys(hand).sort());
    for (const [name, value] of Object.entries(hand)) {
      const own = found[name as keyof LimitForecast];
      if (typeof value === "number") expect(own, `record ${k + 1}, ${name}`).toBeCloseTo(value, 6);
      else expect(own, `record ${k + 1}, ${name}`).toBe(value);
    }
  });
  return seen;
}

describe("limitForecast() beside every course in turn", () => {
  it("tells the same of 240 records of every sort", () => {
    const seen = compared(Array.from({ length: 240 }, (_, k) => recordOf(k + 1)));
    for (const kind of ["known", "too-few-flights", "no-rise", "too-far-ahead"])
      expect(seen.get(kind) ?? 0, kind).toBeGreaterThan(5);
  });

  it("tells the same of 600 records about their limit, most of which come down through it", () => {
    expect(compared(Array.from({ length: 600 }, (_, k) => aboutLimit(k + 1))).get("no-rise")).toBeGreaterThan(300);
  });
});
