import { logGamma } from "../statistics/gamma-function.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";

/** Steps of two logs that were matched, and how well they agree. */
export interface StepAgreement {
  /** Times of the matched steps on one of the two clocks, s, rising. */
  readonly timesS: readonly number[];
  /** Whether each of them turns a load on. */
  readonly on: readonly boolean[];
  /** How well each step's own offset is known, s. */
  readonly spreadsS: readonly number[];
  /** Sum of squares by which the steps' offsets disagree, in terms of their spreads. */
  readonly discord: number;
  /** How many ways of matching as many steps there were. */
  readonly wayCount: number;
}

/**
 * Offsets agree no better than this, on average: steps that all fall at one phase of the sampling seem to agree better.
 */
const LEAST_DISCORD = 0.6;
/** Scatters tried, on an even grid of their logarithms. */
const SCATTER_COUNT = 60;

/**
 * Chance that switchings of another run, kept in the same rhythm, would agree as well as these do; an upper bound.
 *
 * How evenly the person or machine keeps time is taken from the gaps themselves, those between on and off apart from
 * those between off and on; what few gaps leave open of it is integrated over. Between 0 and 1.
 */
export function coincidence({ timesS, on, spreadsS, discord, wayCount }: StepAgreement): number {
  const gapCount = timesS.length - 1;
  const { squares, freeCount } = gapScatter(timesS, on);
  if (gapCount < 1 || freeCount < 1) return 1;
  // Offsets relative to each other that agree as well as these fill an ellipsoid.
  const logBall =
    (gapCount / 2) * logarithm(Math.PI * Math.max(discord, LEAST_DISCORD * gapCount)) - logGamma(gapCount / 2 + 1);
  const logSpreads = spreadsS.reduce((sum, spread) => sum + logarithm(spread), 0);
  const logVolume = logBall + logSpreads + logarithm(spreadsS.reduce((sum, spread) => sum + power(spread, -2), 0)) / 2;
  const [sum, total] = scatters(squares, freeCount).reduce(
    ([density, all], { scatterS, weight }) => [
      density + weight * exponential(logVolume + logDensityOfNone(spreadsS, scatterS)),
      all + weight,
    ],
    [0, 0],
  );
  return Math.min(1, wayCount * Math.min(1, sum / total));
}

/** Standard deviations of a gap, and how likely each is once the gaps are known. */
function scatters(squares: number, freeCount: number): readonly { scatterS: number; weight: number }[] {
  const usualS = Math.sqrt(Math.max(squares, 1e-8) / freeCount);
  return Array.from({ length: SCATTER_COUNT }, (_, i) => {
    const scatterS = usualS * exponential(6 * ((i + 0.5) / SCATTER_COUNT) - 3);
    // Prior even in the logarithm.
    const logWeight = -freeCount * logarithm(scatterS / usualS) - (freeCount / 2) * squared(usualS / scatterS);
    return { scatterS, weight: exponential(logWeight) };
  });
}

/** Logarithm of the density with which the gaps of two runs, as they are seen, differ by nothing at all. */
function logDensityOfNone(spreadsS: readonly number[], scatterS: number): number {
  const own = spreadsS.reduce((sum, spread) => sum + squared(spread), 0) / spreadsS.length;
  // The gaps as seen scatter by the doubt about their ends as well.
  const apart = Math.max(0, 2 * squared(scatterS) - 2.5 * own);
  let logDeterminant = 0;
  let [before, pivot] = [0, 1];
  for (let i = 1; i < spreadsS.length; i += 1) {
    const diagonal = apart + squared(spreadsS[i - 1]!) + squared(spreadsS[i]!);
    pivot = diagonal - squared(before) / pivot;
    before = squared(spreadsS[i]!);
    logDeterminant += logarithm(pivot);
  }
  return -0.5 * (logDeterminant + (spreadsS.length - 1) * logarithm(2 * Math.PI));
}

/** Sum of squares of the gaps about the means of their kinds, and its degrees of freedom. */
function gapScatter(timesS: readonly number[], on: readonly boolean[]): { squares: number; freeCount: number } {
  const kinds = new Map<string, number[]>();
  for (let i = 1; i < timesS.length; i += 1) {
    const kind = `${on[i - 1]} ${on[i]}`;
    kinds.set(kind, [...(kinds.get(kind) ?? []), timesS[i]! - timesS[i - 1]!]);
  }
  let [squares, freeCount] = [0, 0];
  for (const gaps of kinds.values()) {
    const mean = gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length;
    squares += gaps.reduce((sum, gap) => sum + squared(gap - mean), 0);
    freeCount += gaps.length - 1;
  }
  return { squares, freeCount };
}
