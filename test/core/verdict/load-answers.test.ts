import { describe, expect, it } from "vitest";
import { NO_UNMARKED } from "../../../src/core/detection/unmarked-dips.js";
import type { LoadProfile } from "../../../src/core/profile.js";
import { normalQuantity, selectionAdjusted } from "../../../src/core/quantity/interval.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import type { AnswerContext, JudgedResponse } from "../../../src/core/verdict/judged-response.js";
import { answerLoad, depthOf, detectableDepths } from "../../../src/core/verdict/load-answers.js";
import { dipOf, judgedOf, NO_SOURCE, REFINED, RESPONSE, SHAPE, SOURCE } from "./judged-response.js";

const contextOf = (changed: Partial<AnswerContext> = {}): AnswerContext => ({
  falseAlarmRate: 0.01,
  power: 0.95,
  source: SOURCE,
  lowestResistanceOhm: 0.02,
  sourceRegulated: false,
  sourceNotShown: false,
  frozen: false,
  atEnd: false,
  frictionUntold: false,
  besideMarks: NO_UNMARKED,
  cadenceTold: false,
  displayStepV: null,
  gainUncertainty: 0,
  random: randomGenerator(1),
  ...changed,
});
const profile: LoadProfile = { id: "probe", name: "Probe heat", kind: "heater", reference: false, acceptA: [4, 8] };
/** 0.25 V of a lamp of 10 A tell the resistance. */
const BESIDE_LAMP = {
  ...SOURCE,
  route: "reference-load" as const,
  load: "lamp",
  current: { value: 10, u: 0.3 },
  rows: [{ source: "reference-depth" as const, value: 0.25, unit: "V" as const, u: 0.005, sensitivity: 1 }],
};
const answer = (judged: Partial<JudgedResponse> = {}, context: Partial<AnswerContext> = {}) =>
  answerLoad(judgedOf(judged), contextOf(context));

/** Nothing seen: 1 mV +/- 5 mV, from noise in 4 of 10 recordings. */
const silent: Partial<JudgedResponse> = {
  pValue: 0.4,
  depth: normalQuantity(0.001, 0.005, "V", "generalized-least-squares"),
  response: { ...RESPONSE, depth: { ...RESPONSE.depth, means: Float64Array.of(0.001) } },
  profile,
};

describe("detectableDepths()", () => {
  it("are the sizes found with one half and with the wanted power, in volts", () => {
    // The stand-in of the distribution: critical score -log10(rate), size critical + 10 (power - 1/2); 2 mV per score.
    const { criticalDepthV, minimumDetectableDepthV } = detectableDepths(RESPONSE, 0.01, 0.9);
    expect(criticalDepthV).toBeCloseTo(0.004, 12);
    expect(minimumDetectableDepthV).toBeCloseTo(0.012, 12);
  });
});

describe("depthOf()", () => {
  it("is the response's distribution, by the route that it was found", () => {
    expect(depthOf(RESPONSE).value).toBeCloseTo(0.1, 12);
    expect(depthOf(RESPONSE).route).toBe("generalized-least-squares");
    expect(depthOf({ ...RESPONSE, roundingCounted: true }).route).toBe("interval-likelihood");
  });
});

describe("answerLoad()", () => {
  it("expects the lowest acceptable current through the lowest resistance, where both are told", () => {
    expect(answer({ profile }).answer.expectedDepthV).toBeCloseTo(0.08, 12);
    expect(answer({ profile }, { lowestResistanceOhm: null }).answer.expectedDepthV).toBeNull();
    expect(answer().answer.expectedDepthV).toBeNull();
    const { acceptA: _, ...untold } = profile;
    expect(answer({ profile: untold }).answer.expectedDepthV).toBeNull();
  });

  it("hands on name, reference, limits and the number of switchings", () => {
    expect(answer({ profile: { ...profile, reference: true } }).answer).toMatchObject({
      id: "probe",
      name: "Probe heat",
      reference: true,
      verdict: "responded",
      pValue: 1e-6,
      switchingCount: 2,
      criticalDepthV: 0.01,
      minimumDetectableDepthV: 0.02,
    });
    expect(answer().answer).toMatchObject({ name: "probe", reference: false });
  });

  it("denies a load whose dip is excluded, and gives the depth but no current", () => {
    const { answer: given, assumptions } = answer(silent);
    expect(given).toMatchObject({ verdict: "no response", current: null, coldDepth: null, coldCurrent: null });
    expect(given.depth).toEqual(silent.depth);
    expect(assumptions).toEqual([
      { code: "not-identifiable", what: "current", load: "probe", why: "load-did-not-respond" },
    ]);
  });

  it("the upper bound is the noise's 99 % and the display's most together, or the depth's own interval if that is higher", () => {
    // 1 + 2.326 x 5 = 12.63 mV by noise; expected dip of 4 A.
    const verdict = (mostV: number, expectedV: number, changed: Partial<JudgedResponse> = {}, rate = 0.01) =>
      answer(
        { ...silent, displayBias: { uV: 0, mostV }, minimumDetectableDepthV: 0.001, ...changed },
        { lowestResistanceOhm: expectedV / 4, falseAlarmRate: rate },
      ).answer.because;
    expect(verdict(0, 0.0125)).toBe("between");
    expect(verdict(0, 0.0128)).toBe("excludes-acceptable");
    expect(verdict(0.01, 0.0225)).toBe("between");
    expect(verdict(0.01, 0.0228)).toBe("excludes-acceptable");
    // A lax false-alarm rate loosens no bound: still 99 %. A strict one widens it: 3.090 x 5 + 1 = 16.45 mV.
    expect(verdict(0, 0.0125, {}, 0.1)).toBe("between");
    expect(verdict(0, 0.0163, {}, 0.001)).toBe("between");
    expect(verdict(0, 0.0166, {}, 0.001)).toBe("excludes-acceptable");
    // A doubt of 3 mV that all readings share moves the bound by 2.326 x 3 mV more; together by squares, 14.6 mV, is the least.
    expect(verdict(0, 0.0145, { commonV: 0.003 })).toBe("between");
    expect(verdict(0, 0.0195, { commonV: 0.003 })).toBe("between");
    expect(verdict(0, 0.0198, { commonV: 0.003 })).toBe("excludes-acceptable");
    const wide = { ...silent.depth!, high: 0.03 };
    expect(verdict(0, 0.0298, { depth: wide })).toBe("between");
    expect(verdict(0, 0.0302, { depth: wide })).toBe("excludes-acceptable");
  });

  it("after a search the bound is what would hardly be missed, and a best that is noise is no depth", () => {
    const searched = { ...silent, surelyDetectableDepthV: 0.05, displayBias: { uV: 0, mostV: 0.01 } };
    const because = (expectedV: number) =>
      answer(searched, { cadenceTold: true, lowestResistanceOhm: expectedV / 4 }).answer.because;
    expect(because(0.0599)).toBe("between");
    expect(because(0.0601)).toBe("excludes-acceptable");
    expect(answer(searched).answer).toMatchObject({ because: "never-switched", depth: null, switchingCount: 0 });
    expect(answer({ surelyDetectableDepthV: 0.05 }).answer).toMatchObject({ verdict: "responded", switchingCount: 2 });
    expect(answer({ surelyDetectableDepthV: 0.05 }).answer.depth).not.toBeNull();
  });

  it("hands on each doubt to the verdict", () => {
    expect(answer({}, { sourceRegulated: true }).answer.because).toBe("source-regulated");
    expect(answer({}, { frozen: true }).answer.because).toBe("display-too-coarse");
    expect(answer({ indistinct: true }).answer.because).toBe("load-not-told");
    expect(answer({ strayed: true }).answer.because).toBe("not-as-marked");
    expect(answer({ edgesDisagree: true }).answer.because).toBe("dips-disagree");
    expect(answer({ maybeOneStep: true }).answer.because).toBe("one-step");
    expect(answer({ maybeWander: true }).answer.because).toBe("maybe-wander");
    expect(answer({ unfit: true }).answer.because).toBe("dips-unfit");
    expect(answer({ rhythmGoesOn: true }).answer.because).toBe("rhythm-goes-on");
    expect(answer(silent, { frictionUntold: true }).answer.because).toBe("friction-untold");
    expect(answer(silent, { besideMarks: { trains: [], deepestV: 0.041 } }).answer.because).toBe("dips-beside-marks");
    const coarse = { ...silent, minimumDetectableDepthV: 0.09, displayBias: { uV: 0, mostV: 0.07 } };
    expect(answer(coarse).answer.because).toBe("display-too-coarse");
    const lone = [dipOf({ depthV: 0.2 }), dipOf({ depthV: 0, onTime: { onsetS: 20, releaseS: 26 } })];
    expect(answer({ dips: lone }).answer.because).toBe("dips-disagree");
  });

  it("adjusts an accepted depth for having been accepted, and no other", () => {
    const faint = normalQuantity(0.012, 0.005, "V", "generalized-least-squares");
    expect(answer({ depth: faint }).answer.depth).toEqual(selectionAdjusted(faint, 0.01));
    // A needle that sticks by 20 mV hides up to 40 mV of a dip (hysteresis: JCGM 100:2008, F.2.2.2), accepted or not.
    const stuck = normalQuantity(0.0101, 0.023, "V", "generalized-least-squares");
    const friction = { depth: stuck, displayBias: { uV: 0.023, mostV: 0.04 } };
    expect(answer(friction).answer.depth!.high).toBeCloseTo(0.0501, 12);
    expect(answer({ depth: faint, pValue: 0.5 }).answer.depth).toEqual(faint);
  });
});

describe("answerLoad() at the end of the meter's range", () => {
  it("gives no depth and no current of a dip that was cut off, unless the current was measured", () => {
    const { answer: given, assumptions, budgets } = answer({ profile }, { atEnd: true });
    expect(given).toMatchObject({ verdict: "responded", depth: null, current: null });
    expect(assumptions).toEqual([
      { code: "not-identifiable", what: "depth", load: "probe", why: "meter-at-end" },
      { code: "not-identifiable", what: "current", load: "probe", why: "meter-at-end" },
    ]);
    expect(budgets).toEqual([]);
    const measured = answer({ measuredA: { value: 5, u: 0.1 } }, { atEnd: true });
    expect(measured.answer.current!.value).toBe(5);
    expect(measured.budgets.map(({ quantity }) => quantity)).toEqual(["current"]);
  });
});

describe("answerLoad(current)", () => {
  it("is the measured one where there is one", () => {
    const { answer: given, budgets } = answer({ measuredA: { value: 5.5, u: 0.11 } });
    expect(given.current).toEqual(normalQuantity(5.5, 0.11, "A", "measured-current"));
    const budget = budgets.find(({ quantity }) => quantity === "current")!;
    expect(budget).toMatchObject({ load: "probe", unit: "A", value: 5.5, method: "first-order" });
    expect(budget.rows).toEqual([
      { source: "measured-current", value: 5.5, unit: "A", u: 0.11, sensitivity: 1, share: 1 },
    ]);
  });

  it("else is not known without a resistance, for its reason", () => {
    const { answer: given, assumptions } = answer({}, { source: NO_SOURCE });
    expect(given.current).toBeNull();
    expect(assumptions).toEqual([{ code: "not-identifiable", what: "current", load: "probe", why: "path-unknown" }]);
  });

  it("else, for a load that gave the resistance, is its own rating", () => {
    const currents = [
      { load: "other", currentA: { value: 9, u: 0.1 }, drawA: () => 9 },
      {
        load: "probe",
        currentA: { value: 6, u: 0.2 },
        drawA: (random: { normal(): number }) => 6 + 0.2 * random.normal(),
      },
    ];
    const { answer: given, budgets } = answer({}, { source: { ...SOURCE, currents } });
    expect(given.current).toEqual(normalQuantity(6, 0.2, "A", "reference-load"));
    expect(budgets[1]!.rows).toMatchObject([{ source: "reference-rating", value: 6, u: 0.2, sensitivity: 1 }]);
  });

  it("else is depth over resistance", () => {
    const { answer: given, budgets } = answer();
    expect(given.current!.value).toBeCloseTo(5, 12);
    expect(given.current!.u).toBeCloseTo(5 * Math.hypot(0.05, 0.02), 9);
    expect(given.current).toMatchObject({ unit: "A", coverage: 0.95, route: "known-resistance" });
    expect(given.current!.high - given.current!.low).toBeCloseTo(2 * 1.96 * given.current!.u, 4);
    expect(budgets.map(({ quantity }) => quantity)).toEqual(["depth", "current"]);
  });

  it("has the interval of a depth that was just accepted, over a resistance that is surely known", () => {
    const sure = { ...SOURCE, uOhm: 1e-9 };
    for (const acceptedFromV of [0.099, 0.095, 0.09, 0.02]) {
      const { depth, current } = answer({ acceptedFromV }, { source: sure }).answer;
      expect(current!.low).toBeCloseTo(depth!.low / sure.resistanceOhm, 3);
      expect(current!.high).toBeCloseTo(depth!.high / sure.resistanceOhm, 3);
    }
    // Far beyond what was asked the interval is the plain one; just accepted, the truth may be much less.
    expect(answer({ acceptedFromV: 0.0999 }, { source: sure }).answer.current!.low).toBeLessThan(5 - 5 * 0.05 * 4);
    const plain = answer({ acceptedFromV: 0.02 }, { source: sure }).answer.current!;
    expect(plain.value - plain.low).toBeCloseTo(5 * 0.05 * 1.96, 3);
  });

  it("over a resistance of the stated time by as much more as the dip still grows until then", () => {
    const response = { ...RESPONSE, shape: { ...SHAPE, polarization: 0.4, polarizationS: 20 } };
    const { answer: given, budgets } = answer({ response });
    // 0.4 of the step over 20 s, one second after it.
    const grown = 1 + 0.4 * (1 - Math.exp(-1 / 20));
    expect(given.current!.value).toBeCloseTo(5 * grown, 9);
    expect(budgets[1]!.rows.map((row) => row.source)).toContain("switching-time-and-shape");
    // The dip of the reference and this one grow alike: the ratio of their depths is that of the currents.
    const source = BESIDE_LAMP;
    expect(answer({ response }, { source }).answer.current!.value).toBeCloseTo(
      answer({}, { source }).answer.current!.value,
      9,
    );
  });

  it("or, beside one reference load, the ratio of the two dips", () => {
    const source = BESIDE_LAMP;
    const { answer: given, budgets } = answer({}, { source });
    // 10 A x 0.1 / 0.25.
    expect(given.current!.value).toBeCloseTo(4, 12);
    expect(given.current!.u).toBeCloseTo(4 * Math.hypot(0.05, 0.02, 0.03), 9);
    expect(given.current!.route).toBe("reference-load");
    expect(budgets[1]!.rows.map(({ source: one }) => one)).toEqual(["depth", "reference-depth", "reference-rating"]);
    // A measured load's row is called depth.
    const byDepth = { ...source, rows: source.rows.map((row) => ({ ...row, source: "depth" as const })) };
    expect(answer({}, { source: byDepth }).answer.current!.u).toBeCloseTo(given.current!.u, 12);
    // Without such a row the reference's depth is current times resistance, taken as sure.
    const { answer: sure } = answer({}, { source: { ...source, rows: [] } });
    expect(sure.current!.value).toBeCloseTo((10 * 0.1) / 0.2, 12);
    const weak = { ...source, rows: source.rows.map((row) => ({ ...row, u: 0.07 })) };
    expect(answer({}, { source: weak }).assumptions).toContainEqual({
      code: "not-identifiable",
      what: "current",
      load: "probe",
      why: "reference-too-weak",
    });
  });
});

describe("answerLoad(a load that settles)", () => {
  const settling = (inrush: number, uInrush: number, covarianceV = 0) => {
    const shape = { ...SHAPE, inrush };
    const refined = { ...REFINED, shape, uInrush, depthInrushCovarianceV: covarianceV };
    return { response: { ...RESPONSE, shape, refined } };
  };

  it("tells depth and current right after switching on", () => {
    const { answer: given, assumptions } = answer(settling(0.5, 0.1));
    expect(given.coldDepth!.value).toBeCloseTo(0.15, 12);
    // d (1 + i): sqrt((1.5 x 5 mV)^2 + (0.1 V x 0.1)^2).
    expect(given.coldDepth!.u).toBeCloseTo(Math.hypot(0.0075, 0.01), 12);
    expect(given.coldDepth!.unit).toBe("V");
    expect(given.coldCurrent!.value).toBeCloseTo(7.5, 9);
    expect(given.coldCurrent!.u).toBeCloseTo(Math.hypot(1.5 * given.current!.u, 0.5), 9);
    expect(given.coldCurrent).toMatchObject({ unit: "A", route: "known-resistance" });
    expect(assumptions).toEqual([{ code: "settling-seen", load: "probe", timeConstantS: 3 }]);
  });

  it("counts how depth and inrush hang together", () => {
    // Variance 5.625e-5 + 1e-4 + 2 x 1.5 x 0.1 x cov.
    expect(answer(settling(0.5, 0.1, -3e-4)).answer.coldDepth!.u).toBeCloseTo(Math.sqrt(6.625e-5), 12);
    expect(answer(settling(0.5, 0.1, -1)).answer.coldDepth!.u).toBe(0);
  });

  it("only where the inrush is more than a tenth and three standard uncertainties", () => {
    const cold = (inrush: number, uInrush: number) => answer(settling(inrush, uInrush)).answer.coldDepth !== null;
    expect(cold(0.31, 0.1)).toBe(true);
    expect(cold(0.29, 0.1)).toBe(false);
    expect(cold(0.11, 0.01)).toBe(true);
    expect(cold(0.1, 0.01)).toBe(false);
    expect(answer({ response: { ...RESPONSE, shape: { ...SHAPE, inrush: 0.5 } } }).answer.coldDepth).toBeNull();
    expect(answer({ ...settling(0.5, 0.1), pValue: 0.5 }).answer.coldDepth).toBeNull();
    expect(answer(settling(0.5, 0.1), { atEnd: true }).answer.coldDepth).toBeNull();
    expect(answer(settling(0.5, 0.1), { source: NO_SOURCE }).answer.coldCurrent).toBeNull();
  });
});

describe("answerLoad(budget of the depth)", () => {
  const rowsOf = (judged: Partial<JudgedResponse>, context: Partial<AnswerContext> = {}) => {
    const budget = answer(judged, context).budgets.find(({ quantity }) => quantity === "depth")!;
    return { budget, u: Object.fromEntries(budget.rows.map((row) => [row.source, row.u])) };
  };

  it("parts the whole into reading noise, what is open of it, and shape and times; they add up in squares", () => {
    const { budget, u } = rowsOf({ response: { ...RESPONSE, scaleSd: 0.5 } });
    expect(budget).toMatchObject({ load: "probe", unit: "V", value: 0.1, method: "likelihood" });
    expect(u["reading-noise"]).toBeCloseTo(0.004, 12);
    expect(u["noise-model"]).toBeCloseTo(0.002, 12);
    // 25 = 16 + 4 + 5.
    expect(u["switching-time-and-shape"]).toBeCloseTo(Math.sqrt(5) / 1000, 9);
    expect(u["display-step"]).toBeUndefined();
    expect(budget.u).toBeCloseTo(0.005, 9);
    // Errors about nothing, in volts, that count in full.
    for (const row of budget.rows) expect(row).toMatchObject({ value: 0, unit: "V", sensitivity: 1 });
  });

  it("takes the noise of the fitted shape where one was fitted", () => {
    expect(rowsOf({ response: { ...RESPONSE, refined: REFINED } }).u["reading-noise"]).toBeCloseTo(0.003, 12);
  });

  it("names the display where it rounds, by its step or by the most that it hides", () => {
    const biased = { displayBias: { uV: 0.002, mostV: 0.006 } };
    const { budget, u } = rowsOf(biased, { displayStepV: 0.01 });
    expect(u["display-step"]).toBeCloseTo(0.002, 12);
    expect(budget.rows.at(-1)).toMatchObject({ source: "display-step", value: 0.01, unit: "V", sensitivity: 1 });
    expect(rowsOf(biased).budget.rows.at(-1)).toMatchObject({ source: "display-step", value: 0.006 });
    expect(rowsOf({}, { displayStepV: 0.01 }).u["display-step"]).toBe(0);
    // 25 = 16 + 4 + 5.
    expect(u["switching-time-and-shape"]).toBeCloseTo(Math.sqrt(5) / 1000, 9);
  });

  it("never parts more than there is", () => {
    const { budget, u } = rowsOf({
      response: { ...RESPONSE, voltsPerScore: 0.02, scaleSd: 0.5 },
      displayBias: { uV: 0.5, mostV: 0 },
    });
    expect(u["reading-noise"]).toBeCloseTo(0.005, 9);
    expect(u["noise-model"]).toBe(0);
    expect(u["switching-time-and-shape"]).toBe(0);
    expect(budget.u).toBeCloseTo(0.005, 9);
  });

  it("reckons with the wider interval where that was widened", () => {
    const depth = { ...normalQuantity(0.1, 0.005, "V", "generalized-least-squares"), low: 0.1 - 0.0196, high: 0.1196 };
    expect(rowsOf({ depth }).budget.u).toBeCloseTo(0.01, 5);
  });
});
