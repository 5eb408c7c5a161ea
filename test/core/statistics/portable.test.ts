import { describe, expect, it } from "vitest";
import { cosine, sine } from "../../../src/core/statistics/portable-angle.js";
import {
  exponential,
  exponentialLessOne,
  logarithm,
  logarithmOfOnePlus,
} from "../../../src/core/statistics/portable-exponential.js";
import { power, rootSumSquares, squared } from "../../../src/core/statistics/portable-power.js";

/*
 * Expected values: Python 3.11 `decimal` at 700 digits, of the double that stands on the left (`Decimal(x).exp()`,
 * `Decimal(x).ln()`; sine and cosine as their Taylor series in the same arithmetic), written with 26 digits.
 */
const EXPONENTIALS: readonly (readonly [number, string])[] = [
  [-745, "2.8223507304719370763534401e-324"],
  [-744.4400719213812, "4.9406564584126839395476372e-324"],
  [-708.5, "2.0061323053313058203806369e-308"],
  [-100.25, "2.8971980832101478071973611e-44"],
  [-20.125, "1.8189616875530459008036919e-9"],
  [-1.5, "2.2313016014842982893328047e-1"],
  [-0.7, "4.9658530379140953675761761e-1"],
  [-0.34657359027997264, "7.0710678118654753259991300e-1"],
  [-0.001, "9.9900049983337499164725948e-1"],
  [-1e-10, "9.9999999990000000000500000e-1"],
  [0, "1.0000000000000000000000000e+0"],
  [1e-300, "1.0000000000000000000000000e+0"],
  [1e-8, "1.0000000100000000500000004e+0"],
  [0.1, "1.1051709180756476309466388e+0"],
  [0.34657359027997264, "1.4142135623730950324035514e+0"],
  [0.5, "1.6487212707001281468486508e+0"],
  [1, "2.7182818284590452353602875e+0"],
  [2.75, "1.5642631884188171610212698e+1"],
  [10.3, "2.9732618852891434947064769e+4"],
  [88.7, "3.3259869802505790385953245e+38"],
  [300.01, "1.9619481050621109768286415e+130"],
  [709.1, "9.0827449194066678437593518e+307"],
  [709.78, "1.7928227943945156209084125e+308"],
];
const LOGARITHMS: readonly (readonly [number, string])[] = [
  [5e-324, "-7.4444007192138126231410730e+2"],
  [1e-310, "-7.1380137882815416510064460e+2"],
  [2.2250738585072014e-308, "-7.0839641853226410622441123e+2"],
  [1e-100, "-2.3025850929940456838180725e+2"],
  [1e-5, "-1.1512925464970228338286903e+1"],
  [0.1, "-2.3025850929940456285068402e+0"],
  [0.5, "-6.9314718055994530941723212e-1"],
  [0.7071067811865475, "-3.4657359027997274335977535e-1"],
  [0.7071067811865477, "-3.4657359027997242934128362e-1"],
  [0.99, "-1.0050335853501450155048046e-2"],
  [0.9999999999999999, "-1.1102230246251566020533899e-16"],
  [1, "0.0000000000000000000000000e+25"],
  [1.0000000000000002, "2.2204460492503128343282305e-16"],
  [1.01, "9.9503308531680916420610971e-3"],
  [1.4142135623730954, "3.4657359027997288007594851e-1"],
  [2, "6.9314718055994530941723212e-1"],
  [2.75, "1.0116009116784799252274793e+0"],
  [10, "2.3025850929940456840179915e+0"],
  [1000, "6.9077552789821370520539744e+0"],
  [10000000000.0, "2.3025850929940456840179915e+1"],
  [1e200, "4.6051701859880913677333141e+2"],
  [1.7976931348623157e308, "7.0978271289338399673222339e+2"],
];
const LESS_ONE: readonly (readonly [number, string])[] = [
  [-1e-15, "-9.9999999999999957770539988e-16"],
  [1e-12, "1.0000000000004999798866478e-12"],
  [-0.0001, "-9.9995000166662504875026353e-5"],
  [0.001, "1.0005001667083416888932628e-3"],
  [0.2, "2.2140275816016984748136664e-1"],
  [-0.5, "-3.9346934028736657639620047e-1"],
  [1.5, "3.4816890703380648226020555e+0"],
  [-30, "-9.9999999999990642377031160e-1"],
  [40, "2.3538526683701998440789991e+17"],
];
const OF_ONE_PLUS: readonly (readonly [number, string])[] = [
  [-1e-15, "-1.0000000000000005777053999e-15"],
  [1e-12, "9.9999999999949997988664796e-13"],
  [-0.0001, "-1.0000500033335834012615288e-4"],
  [0.001, "9.9950033308353318760528475e-4"],
  [0.2, "1.8232155679395463546357656e-1"],
  [-0.5, "-6.9314718055994530941723212e-1"],
  [-0.999999, "-1.3815510557935518439592151e+1"],
  [1.5, "9.1629073187415506518352721e-1"],
  [10000000000.0, "2.3025850930040456840174915e+1"],
];
const ANGLES: readonly (readonly [number, string, string])[] = [
  [0.1, "9.9833416646828157830196868e-2", "9.9500416527802576554137520e-1"],
  [0.7853981633974483, "7.0710678118654750275194296e-1", "7.0710678118654754604974577e-1"],
  [1.5707963267948966, "1.0000000000000000000000000e+0", "6.1232339957367658861303297e-17"],
  [-2.5, "-5.9847214410395649405185470e-1", "-8.0114361554693371483350279e-1"],
  [3.0, "1.4112000805986722210074480e-1", "-9.8999249660044545727157279e-1"],
  [10.25, "-7.3469843040479542807433908e-1", "-6.7839385047384529551441365e-1"],
  [-100.5, "3.0959966783271344742975313e-2", "9.9952062532835145841769785e-1"],
  [355, "-3.0144353359488449214330280e-5", "-9.9999999954565898016593584e-1"],
  [1000.125, "8.9054241259348639945733293e-1", "4.5490022133669339018693721e-1"],
];
const POWERS: readonly (readonly [number, number, string])[] = [
  [10.0, -3.0, "1.0000000000000000000000000e-3"],
  [10.0, 7.0, "1.0000000000000000000000000e+7"],
  [2.0, -1074.0, "4.9406564584124654417656879e-324"],
  [2.0, 1023.0, "8.9884656743115795386465260e+307"],
  [1.3, 17.0, "8.6504159193813429565737153e+1"],
  [0.7, -11.0, "5.0573331066306257804680520e+1"],
  [2.5, 1.5, "3.9528470752104741649986169e+0"],
  [3.7, -0.5, "5.1987524491003633216522674e-1"],
  [0.02, 0.6666666666666666, "7.3680629972807743805155250e-2"],
  [8.0, 0.3333333333333333, "1.9999999999999999230452041e+0"],
  [17.0, -2.31, "1.4376825173376852726678650e-3"],
];

/** Units in the last place between a result and the double nearest to the reference. */
function ulps(found: number, reference: string): number {
  const nearest = Number(reference);
  if (found === nearest) return 0;
  return Math.abs(found - nearest) / Math.max(Number.MIN_VALUE, 2 ** (Math.floor(Math.log2(Math.abs(nearest))) - 52));
}

describe("portable exponential and logarithm", () => {
  it("exponential(x) is the nearest double or its neighbour", () => {
    for (const [x, reference] of EXPONENTIALS) expect(ulps(exponential(x), reference), `${x}`).toBeLessThanOrEqual(1);
  });

  it("logarithm(x) is the nearest double or its neighbour, also for numbers below the normal range", () => {
    for (const [x, reference] of LOGARITHMS) expect(ulps(logarithm(x), reference), `${x}`).toBeLessThanOrEqual(1);
  });

  it("both tell the ends of their range as ECMA-262 does", () => {
    expect([Number.NEGATIVE_INFINITY, -746, 0, 709.8, Number.POSITIVE_INFINITY, Number.NaN].map(exponential)).toEqual([
      0,
      0,
      1,
      Number.POSITIVE_INFINITY,
      Number.POSITIVE_INFINITY,
      Number.NaN,
    ]);
    expect([0, -0, 1, -1, Number.POSITIVE_INFINITY, Number.NaN].map(logarithm)).toEqual([
      Number.NEGATIVE_INFINITY,
      Number.NEGATIVE_INFINITY,
      0,
      Number.NaN,
      Number.POSITIVE_INFINITY,
      Number.NaN,
    ]);
  });

  it("exponentialLessOne(x) and logarithmOfOnePlus(x) keep their digits near 0", () => {
    for (const [x, reference] of LESS_ONE)
      expect(ulps(exponentialLessOne(x), reference), `${x}`).toBeLessThanOrEqual(4);
    for (const [x, reference] of OF_ONE_PLUS) {
      expect(ulps(logarithmOfOnePlus(x), reference), `${x}`).toBeLessThanOrEqual(4);
    }
  });
});

describe("portable sine and cosine", () => {
  it("sine(x) and cosine(x) are within 2e-16 up to a thousand radians", () => {
    for (const [x, ofSine, ofCosine] of ANGLES) {
      expect(Math.abs(sine(x) - Number(ofSine)), `${x}`).toBeLessThan(2e-16);
      expect(Math.abs(cosine(x) - Number(ofCosine)), `${x}`).toBeLessThan(2e-16);
    }
    expect(sine(Number.POSITIVE_INFINITY)).toBeNaN();
  });
});

describe("portable powers", () => {
  it("power(base, exponent) holds to its stated error", () => {
    for (const [base, exponent, reference] of POWERS) {
      const allowed = 4 + Math.abs(exponent * Math.log(base));
      expect(ulps(power(base, exponent), reference), `${base} ** ${exponent}`).toBeLessThanOrEqual(allowed);
    }
  });

  it("power(base, exponent) is exact where the result is a double: powers of two and ten, squares, roots of squares", () => {
    for (let k = -1022; k <= 1023; k++) expect(Math.log2(power(2, k))).toBe(k);
    for (let k = -300; k <= 300; k++) expect(`${power(10, k)}`).toBe(`${Number(`1e${k}`)}`);
    expect(power(1.5, 2)).toBe(2.25);
    expect(power(2.25, 0.5)).toBe(1.5);
    expect(power(0, 3)).toBe(0);
    expect(power(5, 0)).toBe(1);
    expect(power(-2, 1.25)).toBeNaN();
    expect(squared(-1.5)).toBe(2.25);
  });

  it("rootSumSquares(...) is safe from overflow and underflow", () => {
    expect(rootSumSquares(3, -4)).toBe(5);
    expect(rootSumSquares(3e200, 4e200)).toBeCloseTo(5e200, -190);
    expect(rootSumSquares(3e-200, 4e-200) / 5e-200).toBeCloseTo(1, 14);
    expect(rootSumSquares()).toBe(0);
    expect(rootSumSquares(0, 0)).toBe(0);
    expect(rootSumSquares(1, Number.POSITIVE_INFINITY)).toBe(Number.POSITIVE_INFINITY);
    expect(rootSumSquares(1, Number.NaN)).toBeNaN();
  });
});
