import { describe, expect, it } from "vitest";
import { analyze, type BusProfile, type SwitchingMark } from "../../../src/core/index.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import { normalQuantile, normalSurvival } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import {
  figuresUnderGain,
  finiteOrNull,
  largestHiddenDepthV,
  limitsUnderDoubt,
  polarizationUnderGain,
  pValueUnderDoubt,
  withSharedGain,
} from "../../../src/core/verdict/shared-doubt.js";

describe("withSharedGain()", () => {
  it("adds relative uncertainties in quadrature, each half-width for itself", () => {
    const skewed = { ...normalQuantity(0.2, 0.01, "V", "generalized-least-squares"), low: 0.19, high: 0.23 };
    const doubted = withSharedGain(skewed, 0.1);
    expect(doubted).toMatchObject({ value: 0.2, unit: "V", coverage: 0.95, route: "generalized-least-squares" });
    expect(doubted.u).toBeCloseTo(Math.hypot(0.01, 0.02), 12);
    // JCGM 100:2008, table G.2: 1.960 for 95 %.
    expect(0.2 - doubted.low).toBeCloseTo(Math.hypot(0.01, 1.96 * 0.02), 5);
    expect(doubted.high - 0.2).toBeCloseTo(Math.hypot(0.03, 1.96 * 0.02), 5);
    expect(withSharedGain(skewed, 0)).toBe(skewed);
  });
});

describe("pValueUnderDoubt()", () => {
  it("weighs the response by noise and gain together", () => {
    expect(pValueUnderDoubt(normalSurvival(5), 0.4)).toBeCloseTo(normalSurvival(1 / Math.hypot(0.2, 0.4)), 12);
    expect(pValueUnderDoubt(1e-7, 0)).toBe(1e-7);
    expect(pValueUnderDoubt(0.7, 3)).toBe(0.7);
  });

  it("never passes what the gain alone allows, however small the noise", () => {
    expect(pValueUnderDoubt(0, 0.5)).toBeCloseTo(normalSurvival(2), 3);
    expect(pValueUnderDoubt(0, 0.5)).toBeGreaterThan(normalSurvival(2));
  });
});

describe("limitsUnderDoubt()", () => {
  const sigmaV = 0.01;
  const [zAlpha, zPower] = [normalQuantile(0.99), normalQuantile(0.95)];
  const rates = { falseAlarmRate: 0.01, power: 0.95, commonV: 0 };
  const limits = { criticalDepthV: zAlpha * sigmaV, minimumDetectableDepthV: (zAlpha + zPower) * sigmaV };

  it.each([0.004, 0.1, 0.3])("meets the definitions of ISO 11843-1 with a gain uncertain by %d", (g) => {
    const { criticalDepthV: c, minimumDetectableDepthV: d } = limitsUnderDoubt(limits, {
      ...rates,
      gainUncertainty: g,
    });
    expect(c / Math.hypot(sigmaV, g * c)).toBeCloseTo(zAlpha, 9);
    expect((d - c) / Math.hypot(sigmaV, g * d)).toBeCloseTo(zPower, 9);
  });

  it.each([0, 0.1])("count a doubt of all readings of an on-time as part of sigma, gain uncertain by %d", (g) => {
    const { criticalDepthV: c, minimumDetectableDepthV: d } = limitsUnderDoubt(limits, {
      ...rates,
      commonV: 0.03,
      gainUncertainty: g,
    });
    expect(c / Math.hypot(sigmaV, 0.03, g * c)).toBeCloseTo(zAlpha, 9);
    expect((d - c) / Math.hypot(sigmaV, 0.03, g * d)).toBeCloseTo(zPower, 9);
  });

  it("are as before where the gain is known, and none where its doubt is as large as any depth", () => {
    expect(limitsUnderDoubt(limits, { ...rates, gainUncertainty: 0 })).toBe(limits);
    expect(limitsUnderDoubt(limits, { ...rates, gainUncertainty: 0.44 }).criticalDepthV).toBe(Number.POSITIVE_INFINITY);
    expect(limitsUnderDoubt(limits, { falseAlarmRate: 0.4, power: 0.95, gainUncertainty: 0.62, commonV: 0 })).toEqual({
      criticalDepthV: Number.POSITIVE_INFINITY,
      minimumDetectableDepthV: Number.POSITIVE_INFINITY,
    });
    expect([finiteOrNull(Number.POSITIVE_INFINITY), finiteOrNull(0.2)]).toEqual([null, 0.2]);
  });
});

describe("largestHiddenDepthV()", () => {
  it("is the depth that shows as no more at the chance told", () => {
    const depthV = largestHiddenDepthV(0.05, 0.2, 0.01);
    // A depth D shows as D (1 + 0.2 z): below 0.05 in 1 of 100.
    expect(normalSurvival((1 - 0.05 / depthV) / 0.2)).toBeCloseTo(0.01, 9);
    expect(largestHiddenDepthV(0.05, 0.5, 0.01)).toBe(Number.POSITIVE_INFINITY);
    expect(largestHiddenDepthV(-0.01, 0.2, 0.01)).toBe(-0.01);
  });
});

describe("figures that share the gain", () => {
  it("are the resistances and short-circuit currents, and no measured current or time constant", () => {
    const ohmic = normalQuantity(0.01, 0.001, "Ohm", "measured-current");
    const current = normalQuantity(10, 0.1, "A", "measured-current");
    const timeConstant = normalQuantity(5, 1, "s", "measured-current");
    const model = { ohmic, pairs: [{ resistance: ohmic, timeConstant }] };
    const doubted = withSharedGain(ohmic, 0.2);
    expect(polarizationUnderGain({ known: true, model }, 0.2)).toEqual({
      known: true,
      model: { ohmic: doubted, pairs: [{ resistance: doubted, timeConstant }] },
    });
    expect(polarizationUnderGain(null, 0.2)).toBeNull();
    const figure = {
      standard: "IEC 60896-21",
      firstA: current,
      secondA: current,
      levelsAsStandard: null,
      resistance: ohmic,
      shortCircuit: null,
    } as const;
    expect(figuresUnderGain([figure, { ...figure, shortCircuit: current }], 0.2)).toEqual([
      { ...figure, resistance: doubted },
      { ...figure, resistance: doubted, shortCircuit: withSharedGain(current, 0.2) },
    ]);
  });
});

describe("analyze() of readings whose gain is in doubt", () => {
  const profile: BusProfile = {
    battery: { resistanceOhm: { value: 0.02, u: 0.0001 } },
    pathResistanceOhm: { value: 0, u: 0.0001 },
    loads: ["probe", "lamp"].map((id) => ({ id, kind: "resistive", reference: false, acceptA: [4, 8] }) as const),
  };
  const times = { probe: [20, 28, 40, 48, 60, 68], lamp: [80, 88, 100, 108, 120, 128] };
  const marks = Object.entries(times).flatMap(([load, timesS]) =>
    timesS.map((timeS, k): SwitchingMark => ({ timeS, load, action: k % 2 === 0 ? "on" : "off" })),
  );
  const judged = (gainUncertainty: number | undefined) => {
    const random = randomGenerator(4);
    const timesS = Float64Array.from({ length: 1500 }, (_, i) => i / 10);
    const isOn = (t: number) => times.probe.some((onS, k) => k % 2 === 0 && t >= onS && t < times.probe[k + 1]!);
    const voltagesV = timesS.map((t) => 24.5 - (isOn(t) ? 0.12 : 0) + 0.008 * random.normal());
    const recording = { timesS, voltagesV, ...(gainUncertainty === undefined ? {} : { gainUncertainty }) };
    return analyze(recording, { marks, profile });
  };

  it("leaves open whether a load responded whose dip may be all gain, and one whose dip it may hide", () => {
    const { loads, dips, detection } = judged(0.75);
    expect(loads.map(({ because }) => because)).toEqual(["movement-doubtful", "movement-doubtful"]);
    expect(loads.map(({ moreSwitchings }) => moreSwitchings)).toEqual([null, null]);
    expect(loads.map((load) => load.minimumDetectableDepthV)).toEqual([null, null]);
    expect(detection).toMatchObject({ criticalDepthV: null, minimumDetectableDepthV: null });
    expect(dips).toEqual([]);
  });

  it("says what it would with a known gain where the doubt is small, and puts it into depth, current and budget", () => {
    const plain = judged(undefined);
    const { loads, budgets } = judged(0.05);
    expect(plain.loads.map(({ verdict }) => verdict)).toEqual(["responded", "no response"]);
    expect(loads.map(({ verdict }) => verdict)).toEqual(["responded", "no response"]);
    const [probe, before] = [loads[0]!, plain.loads[0]!];
    expect(probe.depth!.value).toBeCloseTo(before.depth!.value, 12);
    expect(probe.depth!.u).toBeCloseTo(Math.hypot(before.depth!.u, 0.05 * before.depth!.value), 9);
    // By the profile's resistance: the current is uncertain by the gain too.
    const relative = probe.current!.u / probe.current!.value;
    expect(relative).toBeCloseTo(Math.hypot(before.current!.u / before.current!.value, 0.05), 3);
    const budget = budgets.find(({ quantity, load }) => quantity === "depth" && load === "probe")!;
    expect(budget.u / probe.depth!.u).toBeCloseTo(1, 2);
    expect(budget.rows.find(({ source }) => source === "voltage-gain")).toMatchObject({ value: 1, u: 0.05 });
  });
});
