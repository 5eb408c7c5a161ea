import { addEquation, emptyEquations, solveEquations } from "./normal-equations.js";

/** A place on the scale whose volts are known; angles unwrapped, so that they rise or fall with the volts. */
export interface ScaleKnot {
  readonly angleRad: number;
  readonly uAngleRad: number;
  readonly volts: number;
}

/** Volts under an angle, with the slope there. Angles are taken into the turn that the scale lies in. */
export interface ScaleCurve {
  readonly knots: readonly ScaleKnot[];
  readonly kind: "line" | "polynomial" | "pieces";
  voltsAt(angleRad: number): number;
  /** Volts per radian. */
  slopeAt(angleRad: number): number;
}

/**
 * The curve through the knots: the lowest polynomial that passes them within their doubt and is monotone, or a higher one
 * where many knots agree with it much better; else monotone cubic pieces (Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17,
 * 238).
 *
 * @throws {RangeError} for fewer than two knots or two at one angle.
 */
export function scaleCurve(knots: readonly ScaleKnot[]): ScaleCurve {
  const sorted = [...knots].sort((first, second) => first.angleRad - second.angleRad);
  if (sorted.length < 2) throw new RangeError(`Cannot lay a scale: at least 2 marks are needed, got ${sorted.length}`);
  const middle = (sorted[0]!.angleRad + sorted.at(-1)!.angleRad) / 2;
  const half = (sorted.at(-1)!.angleRad - sorted[0]!.angleRad) / 2;
  if (!(half > 1e-6)) throw new RangeError("Cannot lay a scale: two marks stand at one angle");
  const inTurn = (angle: number) => angle - 2 * Math.PI * Math.round((angle - middle) / (2 * Math.PI));
  const best = bestPolynomial(sorted, middle, half);
  if (best !== null) {
    const { degree, value, slope } = best;
    return {
      knots: sorted,
      kind: degree === 1 ? "line" : "polynomial",
      voltsAt: (angle) => value((inTurn(angle) - middle) / half),
      slopeAt: (angle) => slope((inTurn(angle) - middle) / half) / half,
    };
  }
  const pieces = monotonePieces(sorted);
  return {
    knots: sorted,
    kind: "pieces",
    voltsAt: (angle) => pieces(inTurn(angle)).value,
    slopeAt: (angle) => pieces(inTurn(angle)).slope,
  };
}

/** Degrees of freedom from which the knots' own scatter tells whether a higher degree is worth it. */
const ENOUGH_FREEDOM = 6;
/** Scatter of the knots below this share of their doubt is taken for luck. */
const LEAST_SCATTER = 0.1;

function bestPolynomial(knots: readonly ScaleKnot[], middle: number, half: number) {
  let best: (NonNullable<ReturnType<typeof polynomial>> & { degree: number; information: number }) | null = null;
  const n = knots.length;
  for (let degree = 1; degree <= Math.min(5, n - 1); degree++) {
    const fit = polynomial(knots, middle, half, degree);
    if (fit === null || !isMonotone(fit.slope)) continue;
    // Bayesian information criterion (Schwarz 1978, Ann. Stat. 6, 461) with the scatter estimated.
    const information = n * Math.log(fit.chiSquare / n + LEAST_SCATTER ** 2) + (degree + 1) * Math.log(n);
    const within = fit.excess < 1.6 || degree === n - 1;
    const better = best !== null && n - degree - 1 >= ENOUGH_FREEDOM && information < best.information - 2;
    if ((best === null && within) || better) best = { ...fit, degree, information };
  }
  return best;
}

function polynomial(knots: readonly ScaleKnot[], middle: number, half: number, degree: number) {
  const sums = emptyEquations(degree + 1);
  const voltsPerRad = (knots.at(-1)!.volts - knots[0]!.volts) / (2 * half);
  const rowAt = (x: number) => Array.from({ length: degree + 1 }, (_, power) => x ** power);
  const u = (knot: ScaleKnot) => Math.abs(voltsPerRad) * knot.uAngleRad;
  for (const knot of knots) addEquation(sums, rowAt((knot.angleRad - middle) / half), knot.volts, 1 / u(knot) ** 2);
  const solved = solveEquations(sums);
  if (solved === null) return null;
  const { solution } = solved;
  const value = (x: number) => solution.reduce((sum, part, power) => sum + part * x ** power, 0);
  const slope = (x: number) =>
    solution.reduce((sum, part, power) => (power === 0 ? sum : sum + power * part * x ** (power - 1)), 0);
  const freedom = knots.length - degree - 1;
  const chiSquare = knots.reduce(
    (sum, knot) => sum + ((knot.volts - value((knot.angleRad - middle) / half)) / u(knot)) ** 2,
    0,
  );
  return { value, slope, chiSquare, excess: freedom > 0 ? Math.sqrt(chiSquare / freedom) : Number.POSITIVE_INFINITY };
}

function isMonotone(slope: (x: number) => number): boolean {
  const sign = Math.sign(slope(0));
  for (let x = -1; x <= 1.0001; x += 0.05) if (!(sign * slope(x) > 0)) return false;
  return true;
}

function monotonePieces(knots: readonly ScaleKnot[]): (angle: number) => { value: number; slope: number } {
  const x = knots.map((knot) => knot.angleRad);
  const y = knots.map((knot) => knot.volts);
  const n = x.length;
  const chord = Array.from({ length: n - 1 }, (_, i) => (y[i + 1]! - y[i]!) / (x[i + 1]! - x[i]!));
  const tangent = x.map((_, i) => {
    if (i === 0) return chord[0]!;
    if (i === n - 1) return chord[n - 2]!;
    const [before, after] = [chord[i - 1]!, chord[i]!];
    if (before * after <= 0) return 0;
    const [left, right] = [x[i]! - x[i - 1]!, x[i + 1]! - x[i]!];
    return (3 * (left + right)) / ((2 * right + left) / before + (right + 2 * left) / after);
  });
  return (angle) => {
    if (angle <= x[0]!) return { value: y[0]! + chord[0]! * (angle - x[0]!), slope: chord[0]! };
    if (angle >= x[n - 1]!) return { value: y[n - 1]! + chord[n - 2]! * (angle - x[n - 1]!), slope: chord[n - 2]! };
    let i = 0;
    while (angle > x[i + 1]!) i++;
    const wide = x[i + 1]! - x[i]!;
    const t = (angle - x[i]!) / wide;
    const [m0, m1] = [tangent[i]! * wide, tangent[i + 1]! * wide];
    const [y0, y1] = [y[i]!, y[i + 1]!];
    return {
      value:
        (2 * t ** 3 - 3 * t ** 2 + 1) * y0 +
        (t ** 3 - 2 * t ** 2 + t) * m0 +
        (3 * t ** 2 - 2 * t ** 3) * y1 +
        (t ** 3 - t ** 2) * m1,
      slope: ((6 * t ** 2 - 6 * t) * (y0 - y1) + (3 * t ** 2 - 4 * t + 1) * m0 + (3 * t ** 2 - 2 * t) * m1) / wide,
    };
  };
}
