import { describe, expect, it } from "vitest";
import { stepWeights } from "../../../src/core/estimation/relaxation-columns.js";
import { type PairFit, RelaxationProblem } from "../../../src/core/estimation/relaxation-problem.js";
import { type TheveninFit, theveninFit } from "../../../src/core/estimation/thevenin.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

interface Cell {
  readonly rateHz: number;
  readonly tausS: readonly number[];
  readonly sigmaV?: number;
  readonly lagS?: number;
  readonly currentA?: number;
}

/** 25 V behind 20 mOhm and 10 mOhm per time constant; a load from 30 s to 60 s of 90 s; the readings' phase is random. */
function cell(bench: Cell, seed: number) {
  const { rateHz, tausS, sigmaV = 0.005, lagS = 0.3, currentA = 10 } = bench;
  const random = randomGenerator(seed);
  const phase = random.uniform() / rateHz;
  const timesS = Float64Array.from({ length: Math.round(90 * rateHz) }, (_, k) => k / rateHz + phase);
  const seen = (t: number, tau: number) => 1 - (tau * Math.exp(-t / tau) - lagS * Math.exp(-t / lagS)) / (tau - lagS);
  const ohmic = (t: number) => (lagS > 0 ? 1 - Math.exp(-t / lagS) : 1);
  const step = (t: number) =>
    t <= 0 ? 0 : currentA * (0.02 * ohmic(t) + tausS.reduce((sum, tau) => sum + 0.01 * seen(t, tau), 0));
  return {
    timesS,
    voltagesV: timesS.map((t) => 25 + 0.0005 * t - step(t - 30) + step(t - 60) + sigmaV * random.normal()),
    levels: [
      { timeS: 30, currentA },
      { timeS: 60, currentA: 0 },
    ],
    lagS: { value: lagS, u: 0 },
  };
}

function parts(fit: TheveninFit) {
  if (!fit.parts.known) throw new Error(fit.parts.why);
  return fit.parts;
}

describe("theveninFit()", () => {
  it("covers ohmic part, pair and time constant in 95 % of 100 dips each, give or take 5 %", () => {
    const covered = [0, 0, 0, 0];
    const count = 100;
    for (let seed = 1; seed <= count; seed++) {
      const fit = theveninFit(cell({ rateHz: 4, tausS: [5] }, seed));
      const { ohmicOhm, pairs } = parts(fit);
      const truths = [0.02, 0.01, 5, 0.02 + 0.01 * (1 - Math.exp(-2))];
      [ohmicOhm, pairs[0].resistanceOhm, pairs[0].timeConstantS, fit.resistances[1].resistanceOhm].forEach((got, k) => {
        if (Math.abs(got.value - truths[k]) < 1.96 * got.u) covered[k] += 1 / count;
      });
    }
    for (const share of covered) {
      expect(share).toBeGreaterThan(0.9);
      expect(share).toBeLessThan(1);
    }
  });

  it("R_dc at 10 s holds to 1 % where the time constant cannot be told", () => {
    for (const tau of [0.31, 100]) {
      for (let seed = 1; seed <= 10; seed++) {
        const fit = theveninFit(cell({ rateHz: 2, tausS: [tau] }, seed));
        const { value, u } = fit.resistances[1].resistanceOhm;
        const truth = 0.02 + 0.01 * (1 - Math.exp(-10 / tau));
        expect(Math.abs(value / truth - 1)).toBeLessThan(0.02);
        expect(u / truth).toBeLessThan(0.01);
      }
    }
  });

  it("does not tell the parts where polarisation runs as fast as the meter's lag, or far slower than the dip", () => {
    const fast = { ...cell({ rateHz: 2, tausS: [0.31] }, 1), lagS: { value: 0.3, u: 0.1 } };
    expect(theveninFit(fast).parts).toEqual({ known: false, why: "too-fast" });
    const slow = theveninFit(cell({ rateHz: 2, tausS: [1000] }, 1)).parts;
    expect(slow.known).toBe(false);
  });

  it("does not tell the parts in ten times the noise", () => {
    expect(theveninFit(cell({ rateHz: 1, tausS: [10], sigmaV: 0.08 }, 1)).parts.known).toBe(false);
  });

  it("keeps a second pair where the battery has one, and none where it has not (8 dips each)", () => {
    for (let seed = 1; seed <= 8; seed++) {
      const two = parts(theveninFit(cell({ rateHz: 10, tausS: [1, 12], sigmaV: 0.001 }, seed)));
      expect(two.pairs.length).toBe(2);
      expect(Math.abs(two.pairs[0].timeConstantS.value / 1 - 1)).toBeLessThan(0.2);
      expect(Math.abs(two.pairs[1].timeConstantS.value / 12 - 1)).toBeLessThan(0.2);
      expect(parts(theveninFit(cell({ rateHz: 10, tausS: [5], sigmaV: 0.001 }, seed))).pairs.length).toBe(1);
    }
  });

  it("an uncertain lag widens the ohmic part", () => {
    const input = cell({ rateHz: 10, tausS: [3] }, 4);
    const sharp = parts(theveninFit(input));
    const blunt = parts(theveninFit({ ...input, lagS: { value: 0.3, u: 0.1 } }));
    expect(blunt.ohmicOhm.value).toBe(sharp.ohmicOhm.value);
    expect(blunt.ohmicOhm.u).toBeGreaterThan(1.3 * sharp.ohmicOhm.u);
  });

  it("a unit current gives depths in volts: ten times the ohms at 10 A", () => {
    const input = cell({ rateHz: 10, tausS: [3] }, 5);
    const unit = theveninFit({ ...input, levels: input.levels.map((l) => ({ ...l, currentA: l.currentA / 10 })) });
    const ohms = theveninFit(input).resistances[0].resistanceOhm;
    expect(unit.resistances[0].resistanceOhm.value / ohms.value).toBeCloseTo(10, 9);
    expect(unit.resistances[0].resistanceOhm.u / ohms.u).toBeCloseTo(10, 9);
  });

  it("times shifted by 1.7e9 s give the same resistances", () => {
    const input = cell({ rateHz: 10, tausS: [3] }, 6);
    const shift = 1.7e9;
    const moved = theveninFit({
      ...input,
      timesS: input.timesS.map((t) => t + shift),
      levels: input.levels.map((level) => ({ ...level, timeS: level.timeS + shift })),
    });
    const here = theveninFit(input).resistances[0].resistanceOhm.value;
    expect(Math.abs(moved.resistances[0].resistanceOhm.value / here - 1)).toBeLessThan(1e-6);
  });

  it("refuses fewer than six readings", () => {
    const input = cell({ rateHz: 10, tausS: [3] }, 7);
    const short = { ...input, timesS: input.timesS.subarray(0, 5), voltagesV: input.voltagesV.subarray(0, 5) };
    expect(() => theveninFit(short)).toThrow(
      "Cannot fit a dip: at least 6 readings and 1 level of the current are needed, got 5 and 2",
    );
  });
});

/** The choice between open, one pair and two by its rules, from fits with a given number of pairs at each lag. */
function byHand(
  input: ReturnType<typeof cell>,
  uLagS: number,
  atS: readonly number[],
): Omit<TheveninFit, "residualDeviationV"> {
  const lagS = input.lagS.value;
  const problemAt = (ownLagS: number) => new RelaxationProblem(input, ownLagS);
  const isClear = ({ ohmicOhm, pairs }: Pick<PairFit, "ohmicOhm" | "pairs">) =>
    [ohmicOhm, ...pairs.flatMap(({ resistanceOhm, timeConstantS }) => [resistanceOhm, timeConstantS])].every(
      ({ value, u }) => value > 0 && u / value <= 0.5,
    );
  const here = problemAt(lagS);
  const grid = here.grid();
  const one = here.refine([grid.bestTauS]);
  let two: PairFit | null = null;
  if (one?.misfit && isClear(one)) {
    const tauS = one.pairs[0]!.timeConstantS.value;
    const tried = [here.refine([0.2 * tauS, 1.3 * tauS]), here.refine([0.8 * tauS, 5 * tauS])].filter(
      (fit) => fit !== null,
    );
    const best = tried.reduce<PairFit | null>(
      (least, fit) => (least === null || fit.residualDeviationV < least.residualDeviationV ? fit : least),
      null,
    );
    // Schwarz: two parameters more cost ln n; the gain is n / 2 ln of the sums of squares.
    const gain = best === null ? 0 : (best.independentCount / 2) * Math.log(one.residualSquares / best.residualSquares);
    const apart = best === null ? 0 : best.pairs[1]!.timeConstantS.value / best.pairs[0]!.timeConstantS.value;
    if (best !== null && isClear(best) && gain > Math.log(best.independentCount) && apart >= 3) two = best;
  }
  const fitted = two ?? one;
  const edge = two === null ? grid.edge : null;
  const tells = two !== null || (edge === null && one !== null && !grid.open && isClear(one));
  const why = edge === "low" ? "too-fast" : edge === "high" ? "too-slow" : "too-faint";
  const resistances = (fit: PairFit | null, own: RelaxationProblem) =>
    atS.map((time) =>
      fit !== null && fit.pairs.length > 1
        ? fit.resistanceAt(time)
        : own.grid().resistance((tauS) => stepWeights(time, [tauS])),
    );
  const plain = resistances(two, here);
  const told = tells
    ? { known: true as const, ohmicOhm: fitted!.ohmicOhm, pairs: fitted!.pairs }
    : ({ known: false as const, why } as const);
  if (uLagS === 0) return { resistances: atS.map((time, k) => ({ atS: time, resistanceOhm: plain[k]! })), parts: told };
  // Half the change between one standard uncertainty of the lag below and above counts in quadrature.
  const others = [Math.max(0, lagS - uLagS), lagS + uLagS].map((ownLagS) => {
    const own = problemAt(ownLagS);
    const fit = tells ? own.refine(fitted!.pairs.map(({ timeConstantS }) => timeConstantS.value)) : null;
    return { fit, resistances: resistances(fit, own) };
  });
  type Number = { readonly value: number; readonly u: number };
  const wider = ({ value, u }: Number, of: (other: (typeof others)[number]) => Number) => ({
    value,
    u: Math.hypot(u, (of(others[1]!).value - of(others[0]!).value) / 2),
  });
  const widened = {
    resistances: atS.map((time, k) => ({
      atS: time,
      resistanceOhm: wider(plain[k]!, (other) => other.resistances[k]!),
    })),
  };
  if (!told.known) return { ...widened, parts: told };
  if (others.some(({ fit }) => fit === null)) return { ...widened, parts: { known: false, why: "too-fast" } };
  const parts = {
    known: true as const,
    ohmicOhm: wider(told.ohmicOhm, ({ fit }) => fit!.ohmicOhm),
    pairs: told.pairs.map(({ resistanceOhm, timeConstantS }, k) => ({
      resistanceOhm: wider(resistanceOhm, ({ fit }) => fit!.pairs[k]!.resistanceOhm),
      timeConstantS: wider(timeConstantS, ({ fit }) => fit!.pairs[k]!.timeConstantS),
    })),
  };
  return { ...widened, parts: isClear(parts) ? parts : { known: false, why: "too-fast" } };
}

const nineDigits = (value: object): unknown =>
  JSON.parse(JSON.stringify(value, (_, one) => (typeof one === "number" ? Number(one.toPrecision(9)) : one)));

describe("theveninFit() by its rules", () => {
  const benches: readonly Cell[] = [
    { rateHz: 4, tausS: [5] },
    { rateHz: 2, tausS: [300] },
    { rateHz: 2, tausS: [40] },
    { rateHz: 1, tausS: [10], sigmaV: 0.08 },
    { rateHz: 1, tausS: [10], sigmaV: 0.02 },
    { rateHz: 8, tausS: [1, 12], sigmaV: 0.001 },
    { rateHz: 8, tausS: [2.5, 9], sigmaV: 0.001 },
    { rateHz: 8, tausS: [4, 9], sigmaV: 0.0004 },
    { rateHz: 4, tausS: [0.31], sigmaV: 0.002 },
    { rateHz: 4, tausS: [1.2], sigmaV: 0.004 },
  ];

  it.each([0, 0.05, 0.25, 0.6])("tells the same parts and resistances with a lag known to %d s", (uLagS) => {
    const seen = new Set<string>();
    benches.forEach((bench, k) => {
      for (let seed = 1; seed <= 2; seed++) {
        const input = cell(bench, 10 * k + seed);
        const atS = seed === 1 ? [1, 10] : [0.5, 3, 20];
        const found = theveninFit({ ...input, lagS: { ...input.lagS, u: uLagS }, ...(seed === 1 ? {} : { atS }) });
        const hand = byHand(input, uLagS, atS);
        seen.add(hand.parts.known ? String(hand.parts.pairs.length) : hand.parts.why);
        const { residualDeviationV, ...rest } = found;
        expect(nineDigits(rest), `bench ${k}, seed ${seed}`).toEqual(nineDigits(hand));
        expect(residualDeviationV / (bench.sigmaV ?? 0.005)).toBeGreaterThan(0.8);
      }
    });
    expect(seen.size).toBeGreaterThanOrEqual(3);
  });
});
