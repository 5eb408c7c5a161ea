/** What the needle did at a click: the voltage fell (a load went on), rose, or neither surely. */
export type ClickDirection = "on" | "off" | "unclear";

/** Readings of the needle in order of time. */
export interface NeedleTrace {
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
}

/** Readings from before a click, and from after it once the needle has settled, s. */
const BEFORE_S = 0.7;
const SETTLED_S = 0.5;
const AFTER_S = 1.2;
const LEAST_READINGS = 6;
/** Neighbouring readings err alike: four count as one. */
const ALIKE = 4;
/** So many standard uncertainties must the voltage move: chance shows it once in some 1e6 clicks. */
const CLEAR = 5;

/**
 * The direction of each click, from the means of the readings on both sides of it up to the neighbouring clicks. A step
 * that noise could have made tells nothing, so that no dip is made by choosing how its marks read.
 */
export function clickDirections(clickTimesS: readonly number[], trace: NeedleTrace): ClickDirection[] {
  return clickTimesS.map((timeS, index) => {
    const settled = (clickTimesS[index - 1] ?? Number.NEGATIVE_INFINITY) + SETTLED_S;
    const next = clickTimesS[index + 1] ?? Number.POSITIVE_INFINITY;
    const before = within(trace, Math.max(timeS - BEFORE_S, settled), timeS - 0.02);
    const after = within(trace, timeS + SETTLED_S, Math.min(timeS + AFTER_S, next));
    if (before === null || after === null) return "unclear";
    const step = after.mean - before.mean;
    const u = Math.hypot(before.u, after.u);
    if (!(Math.abs(step) > CLEAR * u)) return "unclear";
    return step < 0 ? "on" : "off";
  });
}

function within({ timesS, voltagesV }: NeedleTrace, fromS: number, toS: number): { mean: number; u: number } | null {
  const values = voltagesV.filter((_, index) => timesS[index]! >= fromS && timesS[index]! < toS);
  if (values.length < LEAST_READINGS) return null;
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const square = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1);
  return { mean, u: Math.sqrt((ALIKE * square) / values.length) };
}

/**
 * The action of every click where they alternate and the clear ones all say so; "none-clear" where no click is clear, and
 * "not-in-turn" where clear ones contradict (a click was missed or is none of the switch, or two loads overlap).
 */
export function actionsInTurn(directions: readonly ClickDirection[]): ("on" | "off")[] | "none-clear" | "not-in-turn" {
  const first = directions.findIndex((direction) => direction !== "unclear");
  if (first < 0) return "none-clear";
  const beginsOn = (directions[first] === "on") === (first % 2 === 0);
  const actions = directions.map((_, index): "on" | "off" => ((index % 2 === 0) === beginsOn ? "on" : "off"));
  const agree = directions.every((direction, index) => direction === "unclear" || direction === actions[index]);
  return agree ? actions : "not-in-turn";
}
