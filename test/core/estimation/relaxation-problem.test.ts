import { describe, expect, it } from "vitest";
import { RelaxationProblem } from "../../../src/core/estimation/relaxation-problem.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { inner, invert, times } from "../../oracles/dense-noise.js";

const OHMIC_OHM = 0.01;
const PAIR_OHM = 0.003;
const TAU_S = 4;
const levels = [
  { timeS: 5, currentA: 10 },
  { timeS: 25, currentA: 0 },
  { timeS: 40, currentA: 6 },
  { timeS: 60, currentA: 0 },
];
const closedOhm = (t: number, tauS = TAU_S) => OHMIC_OHM + PAIR_OHM * (1 - Math.exp(-t / tauS));

/** Readings of a resistor and one pair on a level that drifts, 2 mV of white noise at 10 Hz. */
function readings(seed: number, { startS = 0, gain = 1, noiseV = 0.002, tauS = TAU_S, correlation = 0 } = {}) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 800 }, (_, i) => startS + i / 10);
  let last = 0;
  const voltagesV = timesS.map((t) => {
    let dropV = 0;
    last = correlation * last + Math.sqrt(1 - correlation ** 2) * random.normal();
    levels.forEach(({ timeS, currentA }, k) => {
      const sinceS = t - startS - timeS;
      const changeA = currentA - (levels[k - 1]?.currentA ?? 0);
      if (sinceS >= 0) dropV += changeA * closedOhm(sinceS, tauS);
    });
    return gain * (24 + 0.0002 * (t - startS) - dropV + noiseV * last);
  });
  const moved = levels.map(({ timeS, currentA }) => ({ timeS: startS + timeS, currentA }));
  return { timesS, voltagesV, levels: moved };
}

const fitted = (...told: Parameters<typeof readings>) => new RelaxationProblem(readings(...told), 0);

describe("RelaxationProblem", () => {
  it("refine() gives the parts back from readings without noise, and their sum at any time", () => {
    const fit = fitted(1, { noiseV: 1e-9 }).refine([2])!;
    expect(fit.ohmicOhm.value).toBeCloseTo(OHMIC_OHM, 8);
    expect(fit.pairs[0]!.resistanceOhm.value).toBeCloseTo(PAIR_OHM, 8);
    expect(fit.pairs[0]!.timeConstantS.value).toBeCloseTo(TAU_S, 4);
    for (const atS of [0, 0.5, 1, 4, 10, 30]) expect(fit.resistanceAt(atS).value).toBeCloseTo(closedOhm(atS), 8);
  });

  it("refine() states the scatter that its parts and sums have over many recordings", () => {
    const fits = Array.from({ length: 300 }, (_, k) => fitted(100 + k).refine([2])!);
    const scores = (of: (fit: (typeof fits)[number]) => { value: number; u: number }, truth: number) => {
      const z = fits.map((fit) => (of(fit).value - truth) / of(fit).u);
      return Math.sqrt(z.reduce((sum, one) => sum + one * one, 0) / z.length);
    };
    const rms = [
      scores(({ ohmicOhm }) => ohmicOhm, OHMIC_OHM),
      scores(({ pairs }) => pairs[0]!.resistanceOhm, PAIR_OHM),
      scores(({ pairs }) => pairs[0]!.timeConstantS, TAU_S),
      ...[0.5, 2, 4, 8].map((atS) => scores((fit) => fit.resistanceAt(atS), closedOhm(atS))),
    ];
    // Four standard deviations of the rms of 300 scores are 4 / sqrt(600) = 0.163; each fails by chance in 1 of 16,000.
    for (const one of rms) expect(Math.abs(one - 1)).toBeLessThan(0.163);
  });

  it("hangs neither on when the clock began nor on the unit of volts", () => {
    const plain = fitted(7);
    const moved = fitted(7, { startS: 4096 });
    const scaled = fitted(7, { gain: 1024 });
    const weights = (tauS: number) => Float64Array.of(1, 1 - Math.exp(-1 / tauS));
    for (const [other, gain] of [
      [moved, 1],
      [scaled, 1024],
    ] as const) {
      const [a, b] = [plain.refine([2])!, other.refine([2])!];
      expect(b.ohmicOhm.value / gain).toBeCloseTo(a.ohmicOhm.value, 8);
      expect(b.resistanceAt(3).u / gain).toBeCloseTo(a.resistanceAt(3).u, 8);
      expect(b.pairs[0]!.timeConstantS.u).toBeCloseTo(a.pairs[0]!.timeConstantS.u, 5);
      expect(b.misfit).toBe(a.misfit);
      const [gridA, gridB] = [plain.grid(), other.grid()];
      expect(gridB.bestTauS).toBeCloseTo(gridA.bestTauS, 6);
      expect([gridB.edge, gridB.open]).toEqual([gridA.edge, gridA.open]);
      expect(gridB.resistance(weights).value / gain).toBeCloseTo(gridA.resistance(weights).value, 8);
      expect(gridB.resistance(weights).u / gain).toBeCloseTo(gridA.resistance(weights).u, 8);
    }
  });

  it("grid() holds the closed form at one second within its uncertainty, and a time constant near the true one", () => {
    const { bestTauS, edge, open, resistance } = fitted(3).grid();
    const { value, u } = resistance((tauS) => Float64Array.of(1, 1 - Math.exp(-1 / tauS)));
    expect(Math.abs(value - closedOhm(1))).toBeLessThan(4 * u);
    // Forty steps over a factor of 1,600: 21 % from one to the next.
    expect(Math.abs(Math.log(bestTauS / TAU_S))).toBeLessThan(0.35);
    expect([edge, open]).toEqual([null, false]);
  });

  it("grid() finds the time constant open as often in noise that resembles itself as in white noise of the same worth", () => {
    const openShare = (correlation: number, noiseV: number, first: number) =>
      Array.from({ length: 150 }, (_, k) => fitted(first + k, { correlation, noiseV }).grid()).filter(
        ({ open }) => open,
      ).length / 150;
    // Of a correlation of 0.8 nine readings tell as much as one: white noise three times as large.
    const [resembling, white] = [openShare(0.8, 0.014, 500), openShare(0, 0.042, 700)];
    // Four standard deviations of the difference of two shares of 150 are 0.23 at the most.
    expect(Math.abs(resembling - white), `${resembling} and ${white}`).toBeLessThan(0.23);
    expect(white).toBeGreaterThan(0.3);
  });

  it("refine() gives nothing for a time constant below half an interval or above four times the longest level", () => {
    // Readings every 0.1 s; the longest levels are those of 20 s.
    for (const [tauS, isTold] of [
      [0.045, false],
      [0.06, true],
      [76, true],
      [84, false],
    ] as const) {
      const fit = fitted(1, { noiseV: 1e-9, tauS }).refine([tauS]);
      expect(fit !== null, `${tauS} s`).toBe(isTold);
      if (fit !== null) expect(fit.pairs[0]!.timeConstantS.value / tauS).toBeCloseTo(1, 2);
    }
  });

  it("hangs on no unit of time: a hundred times as fast, the same limits and time constants a hundredth as long", () => {
    for (const [tauS, isTold] of [
      [0.045, false],
      [4, true],
      [76, true],
      [84, false],
    ] as const) {
      const { timesS, voltagesV, levels: told } = readings(1, { noiseV: 1e-9, tauS });
      const quick = new RelaxationProblem(
        {
          timesS: timesS.map((t) => t / 100),
          voltagesV,
          levels: told.map(({ timeS, currentA }) => ({ timeS: timeS / 100, currentA })),
        },
        0,
      );
      const fit = quick.refine([tauS / 100]);
      expect(fit !== null, `${tauS} s`).toBe(isTold);
      if (fit !== null) expect((100 * fit.pairs[0]!.timeConstantS.value) / tauS).toBeCloseTo(1, 2);
    }
  });

  it("counts neighbouring residuals that resemble each other as fewer readings: (1 + r) / (1 - r) for a correlation r", () => {
    for (const correlation of [0, 0.6]) {
      const fit = fitted(2, { correlation }).refine([2])!;
      const widening = 800 / fit.independentCount;
      expect(fit.misfit).toBe(correlation > 0);
      // The correlation of 800 residuals is known to 0.035 or better: four times that makes 2.8 to 5.6 of the 4 of 0.6.
      expect(widening).toBeGreaterThanOrEqual(correlation === 0 ? 1 : 2.8);
      expect(widening).toBeLessThan(correlation === 0 ? 1.000001 : 5.6);
    }
  });

  it("refine() finds two pairs, the faster one first", () => {
    const timesS = Float64Array.from({ length: 1600 }, (_, i) => i / 10);
    const long = [
      { timeS: 5, currentA: 10 },
      { timeS: 70, currentA: 0 },
    ];
    const voltagesV = timesS.map((t) => {
      const closed = (since: number) =>
        since < 0 ? 0 : 0.01 + 0.003 * (1 - Math.exp(-since / 1.5)) + 0.004 * (1 - Math.exp(-since / 25));
      return 24 - 10 * (closed(t - 5) - closed(t - 70));
    });
    const fit = new RelaxationProblem({ timesS, voltagesV, levels: long }, 0).refine([30, 1])!;
    expect(fit.pairs.map(({ timeConstantS }) => timeConstantS.value)).toEqual([
      expect.closeTo(1.5, 3),
      expect.closeTo(25, 2),
    ]);
    expect(fit.pairs.map(({ resistanceOhm }) => resistanceOhm.value)).toEqual([
      expect.closeTo(0.003, 6),
      expect.closeTo(0.004, 6),
    ]);
    expect(fit.ohmicOhm.value).toBeCloseTo(0.01, 7);
  });

  it("refine() gives nothing where one of two time constants lies beyond the range", () => {
    const timesS = Float64Array.from({ length: 800 }, (_, i) => i / 10);
    const long = [
      { timeS: 5, currentA: 10 },
      { timeS: 45, currentA: 0 },
    ];
    const refined = (slowS: number) => {
      const closed = (since: number) =>
        since < 0 ? 0 : 0.01 + 0.003 * (1 - Math.exp(-since / 1.5)) + 0.004 * (1 - Math.exp(-since / slowS));
      const voltagesV = timesS.map((t) => 24 - 10 * (closed(t - 5) - closed(t - 45)));
      return new RelaxationProblem({ timesS, voltagesV, levels: long }, 0).refine([1.5, slowS]);
    };
    // Four times 40 s.
    expect(refined(120)).not.toBeNull();
    expect(refined(200)).toBeNull();
  });

  it("grid() tells at which end a time constant lies that the readings do not show", () => {
    const edgeOf = (tauS: number, noiseV = 0.0002) => fitted(4, { tauS, noiseV }).grid();
    expect(edgeOf(0.01).edge).toBe("low");
    expect(edgeOf(4).edge).toBeNull();
    expect(edgeOf(800).edge).toBe("high");
    // In noise as large as the dips hardly any time constant does worse than the best.
    expect(edgeOf(4, 0.2).open).toBe(true);
    expect(edgeOf(4).open).toBe(false);
  });

  it("grid() averages over the time constants by their likelihood, each by ordinary least squares", () => {
    const { timesS, voltagesV } = readings(6, { noiseV: 0.02 });
    // Level, drift, resistor and pair, by the normal equations, for each of 40 time constants from 0.05 s to 80 s.
    const fits = Array.from({ length: 40 }, (_, k) => {
      const tauS = 0.05 * 1600 ** (k / 39);
      const columns = [
        timesS.map(() => 1),
        timesS.map((t) => (t - 40) / 80),
        ...[
          (since: number) => (since >= 0 ? 1 : 0),
          (since: number) => (since >= 0 ? 1 - Math.exp(-since / tauS) : 0),
        ].map((one) =>
          timesS.map((t) =>
            levels.reduce((sum, { timeS, currentA }, i) => {
              return sum - (currentA - (levels[i - 1]?.currentA ?? 0)) * one(t - timeS);
            }, 0),
          ),
        ),
      ].map((column) => Array.from(column));
      const { inverse } = invert(columns.map((a) => columns.map((b) => inner(a, b))));
      const estimates = times(
        inverse,
        columns.map((column) => inner(column, voltagesV)),
      );
      const squares = voltagesV.reduce((sum, v, i) => {
        return sum + (v - columns.reduce((fit, column, c) => fit + column[i]! * estimates[c]!, 0)) ** 2;
      }, 0);
      const slopes = [0, 0, 1, 1 - Math.exp(-1 / tauS)];
      const variance = (inner(slopes, times(inverse, slopes)) * squares) / (timesS.length - 4);
      return { tauS, squares, ohm: inner(slopes, estimates), variance };
    });
    const least = Math.min(...fits.map(({ squares }) => squares));
    const shares = fits.map(({ squares }) => (squares / least) ** (-timesS.length / 2));
    const total = shares.reduce((a, b) => a + b);
    const mean = fits.reduce((sum, { ohm }, k) => sum + (shares[k]! * ohm) / total, 0);
    const square = fits.reduce((sum, { ohm, variance }, k) => sum + (shares[k]! * (ohm ** 2 + variance)) / total, 0);
    const { resistance, bestTauS } = fitted(6, { noiseV: 0.02 }).grid();
    const told = resistance((tauS) => Float64Array.of(1, 1 - Math.exp(-1 / tauS)));
    expect(told.value / mean).toBeCloseTo(1, 6);
    expect(told.u / Math.sqrt(square - mean ** 2)).toBeCloseTo(1, 4);
    expect(bestTauS).toBeCloseTo(fits.find(({ squares }) => squares === least)!.tauS, 9);
  });
});

describe("RelaxationProblem.refine() beside the curvature of its sum of squares", () => {
  const told = [
    { timeS: 5, currentA: 10 },
    { timeS: 70, currentA: 0 },
    { timeS: 90, currentA: 7 },
  ];
  /** Resistor, pairs, level and drift, then the logarithms of the time constants. */
  const truth = [0.01, 0.003, 0.004, 24, 0.02, Math.log(1.5), Math.log(20)];
  const timesS = Float64Array.from({ length: 500 }, (_, i) => 0.3 * i);
  const model = ([ohm, fast, slow, level, drift, logFast, logSlow]: readonly number[], t: number) =>
    level! +
    (drift! * (t - timesS[499]! / 2)) / timesS[499]! -
    told.reduce((sum, { timeS, currentA }, k) => {
      const sinceS = t - timeS;
      const changeA = currentA - (told[k - 1]?.currentA ?? 0);
      const done = (log: number) => 1 - Math.exp(-sinceS / Math.exp(log));
      return sinceS < 0 ? sum : sum + changeA * (ohm! + fast! * done(logFast!) + slow! * done(logSlow!));
    }, 0);

  it.each([
    ["all readings alike", false],
    ["every third of half the uncertainty", true],
  ])("states the uncertainties of two pairs and of their sums: %s", (_, isWeighted) => {
    const random = randomGenerator(8);
    const weights = timesS.map((__, i) => (isWeighted && i % 3 === 0 ? 4 : 1));
    const voltagesV = timesS.map((t, i) => model(truth, t) + (0.001 / Math.sqrt(weights[i]!)) * random.normal());
    const readings = { timesS, voltagesV, levels: told, ...(isWeighted ? { weights } : {}) };
    // From the slower one on: they come back in their own order.
    const fit = new RelaxationProblem(readings, 0).refine([25, 1])!;
    expect(fit.misfit).toBe(false);
    const [fast, slow] = fit.pairs;
    const found = [
      fit.ohmicOhm.value,
      fast!.resistanceOhm.value,
      slow!.resistanceOhm.value,
      0,
      0,
      Math.log(fast!.timeConstantS.value),
      Math.log(slow!.timeConstantS.value),
    ];
    // Level and drift are linear, so that their slopes hang on nothing.
    const slopes = truth.map((___, p) =>
      Array.from(timesS, (t) => {
        const [above, below] = [1e-4, -1e-4].map((step) => {
          return model(
            found.map((value, k) => (k === p ? value + step : value)),
            t,
          );
        });
        return (above! - below!) / 2e-4;
      }),
    );
    const weighed = slopes.map((row) => row.map((v, i) => v * weights[i]!));
    const { inverse } = invert(weighed.map((row) => slopes.map((other) => inner(row, other))));
    // What is left, level and drift fitted too.
    const plain = Array.from(timesS, (t, i) => voltagesV[i]! - model(found, t));
    const two = [slopes[3]!, slopes[4]!];
    const { inverse: own } = invert(
      two.map((a) =>
        two.map((b) =>
          inner(
            a,
            b.map((v, i) => v * weights[i]!),
          ),
        ),
      ),
    );
    const linear = times(
      own,
      two.map((a) =>
        inner(
          a,
          plain.map((v, i) => v * weights[i]!),
        ),
      ),
    );
    const squares = plain.reduce((sum, v, i) => {
      return sum + weights[i]! * (v - linear[0]! * two[0]![i]! - linear[1]! * two[1]![i]!) ** 2;
    }, 0);
    const variance = squares / (500 - 7);
    const u = (direction: readonly number[]) => Math.sqrt(variance * inner(direction, times(inverse, direction)));
    const only = (p: number) => truth.map((___, k) => (k === p ? 1 : 0));
    expect(fit.residualSquares / squares).toBeCloseTo(1, 6);
    expect(fit.ohmicOhm.u / u(only(0))).toBeCloseTo(1, 4);
    expect(fast!.resistanceOhm.u / u(only(1))).toBeCloseTo(1, 4);
    expect(slow!.resistanceOhm.u / u(only(2))).toBeCloseTo(1, 4);
    expect(fast!.timeConstantS.u / (fast!.timeConstantS.value * u(only(5)))).toBeCloseTo(1, 4);
    expect(slow!.timeConstantS.u / (slow!.timeConstantS.value * u(only(6)))).toBeCloseTo(1, 4);
    for (const atS of [0, 0.7, 3, 25]) {
      const at = (parameters: readonly number[]) =>
        parameters[0]! +
        parameters[1]! * (1 - Math.exp(-atS / Math.exp(parameters[5]!))) +
        parameters[2]! * (1 - Math.exp(-atS / Math.exp(parameters[6]!)));
      const direction = truth.map((___, p) => {
        const [above, below] = [1e-4, -1e-4].map((step) => at(found.map((v, k) => (k === p ? v + step : v))));
        return (above! - below!) / 2e-4;
      });
      const { value, u: uOhm } = fit.resistanceAt(atS);
      expect(value).toBeCloseTo(at(found), 9);
      expect(uOhm / u(direction), `${atS} s`).toBeCloseTo(1, 4);
    }
  });
});
