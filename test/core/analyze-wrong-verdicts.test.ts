import { describe, expect, it } from "vitest";
import { randomSource } from "../../samples/simulator/random-source.js";
import { analyze, type BusProfile, type LoadAnswer, type SwitchingMark } from "../../src/core/index.js";

/** Lowest acceptable current makes a dip of 69 mV at the low end of the resistance. */
const probe = { id: "probe", kind: "resistive", acceptA: [6, 14], reference: false } as const;
const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  loads: [probe],
};
const SWITCHINGS = [
  [20, 25],
  [33, 38],
  [46, 51],
] as const;
type Times = readonly (readonly [number, number])[];

const risen = (sinceS: number) => (sinceS <= 0 ? 0 : 1 - Math.exp(-sinceS / 0.1));
const dips =
  (depthV: number, times: Times = SWITCHINGS) =>
  (t: number) =>
    times.reduce((sum, [onS, offS]) => sum - depthV * (risen(t - onS) - risen(t - offS)), 0);

interface Plan {
  readonly seed?: number;
  readonly rateHz?: number;
  readonly durationS?: number;
  readonly sigmaV?: number;
  readonly levelV?: number;
  readonly relaxationV?: number;
  readonly quantumV?: number;
  readonly extraV?: (timeS: number, random: ReturnType<typeof randomSource>) => number;
}

function recorded(plan: Plan) {
  const { seed = 1, rateHz = 10, durationS = 70, sigmaV = 0.01, levelV = 24.1, relaxationV = 0.3, quantumV = 0 } = plan;
  const random = randomSource(seed);
  const timesS = Float64Array.from({ length: durationS * rateHz }, (_, i) => i / rateHz);
  const voltagesV = timesS.map((t) => {
    const v = levelV + relaxationV * Math.exp(-t / 60) + sigmaV * random.normal() + (plan.extraV?.(t, random) ?? 0);
    return quantumV > 0 ? Math.round(v / quantumV) * quantumV : v;
  });
  return { timesS, voltagesV };
}

function marksOf(times: Times = SWITCHINGS, load = "probe", lateS = 0): SwitchingMark[] {
  return times.flatMap(([onS, offS]) => [
    { timeS: onS + lateS, load, action: "on" as const },
    { timeS: offS + lateS, load, action: "off" as const },
  ]);
}

const answerTo = (plan: Plan, marks: readonly SwitchingMark[] = marksOf()): LoadAnswer =>
  analyze(recorded(plan), { marks, profile }).loads[0]!;

describe("analyze() never says responded for a load that draws nothing, when", () => {
  it.each([0.03, 3])("something pulls %d V down during one of three switchings", (depthV) => {
    expect(answerTo({ extraV: dips(depthV, [[33.2, 37.5]]) }).verdict).not.toBe("responded");
  });

  it.each([0.05, 0.5])("the level falls by %d V at one mark and stays there", (stepV) => {
    const extraV = (t: number) => -stepV * risen(t - 20);
    expect(answerTo({ extraV }).verdict).not.toBe("responded");
    expect(answerTo({ extraV }, marksOf([[20, 25]])).verdict).not.toBe("responded");
  });

  it("each switching on is called out by radio, which pulls 0.2 V down for about a second", () => {
    const verdicts = Array.from({ length: 16 }, (_, k) => {
      const random = randomSource(k + 1);
      const calls = SWITCHINGS.map(([onS]) => [onS - 0.3, onS + 0.4 + 0.8 * random.uniform()] as const);
      return answerTo({ seed: k + 1, extraV: dips(0.2, calls) }).verdict;
    });
    expect(verdicts.filter((verdict) => verdict === "responded").length).toBe(0);
  });

  it("nobody marks anything and the level shifts once, down or up", () => {
    const answers = Array.from({ length: 12 }, (_, k) => {
      const random = randomSource(k + 1);
      const atS = 10 + 50 * random.uniform();
      const byV = (k % 2 === 0 ? -1 : 1) * (0.03 + 0.2 * random.uniform());
      const extraV = (t: number) => byV * risen(t - atS);
      return analyze(recorded({ seed: k + 1, rateHz: [2, 5, 10][k % 3], extraV }), { profile });
    });
    // A false alarm of 1 % each: two or more of 12 by chance in six of a thousand programs like this one.
    const affirmed = answers.filter(({ loads }) => loads.some(({ verdict }) => verdict === "responded"));
    expect(affirmed.length).toBeLessThan(2);
  });

  it.each([
    ["far shallower than its lowest acceptable current", 0.03],
    ["shallower than its lowest acceptable current", 0.045],
    ["deeper than its highest", 0.6],
  ])("nobody marks anything and dips %s would make are found", (_, depthV) => {
    const { loads, warnings } = analyze(recorded({ extraV: dips(depthV) }), { profile });
    expect(loads.map(({ id, verdict, because }) => [id, verdict, because])).toEqual([
      ["probe", "undecided", "dips-unfit"],
    ]);
    // How deep they are is told, for what nobody knows.
    expect(Math.abs(loads[0]!.depth!.value - depthV)).toBeLessThan(4 * loads[0]!.depth!.u);
    expect(loads[0]!.current).toBeNull();
    expect(warnings.map(({ code }) => code)).not.toContain("current-outside-acceptable");
    const fitting = analyze(recorded({ extraV: dips(0.12) }), { profile }).loads[0]!;
    expect(fitting.verdict).toBe("responded");
  });

  it.each([7])("another load cycles between the marks, %d s after each", (afterS) => {
    const other = SWITCHINGS.map(([onS]) => [onS + afterS + 2.5, onS + afterS + 5.5] as const);
    expect(answerTo({ extraV: dips(0.15, other) }).verdict).not.toBe("responded");
  });

  it.each([0, 0.2, 0.5])("something cycles in the rhythm of the switchings, %d s behind", (behindS) => {
    const cycling = Array.from({ length: 7 }, (_, k) => 20 + 13 * (k - 2) + behindS);
    const extraV = dips(
      0.09,
      cycling.map((onS) => [onS, onS + 5] as const),
    );
    const answer = answerTo({ durationS: 85, extraV });
    expect([answer.verdict, answer.because]).toEqual(["undecided", "rhythm-goes-on"]);
  });

  it.each([1, 2, 3, 4, 5, 6])("dips of 50 s are searched for, which the search finds in pieces, seed %d", (seed) => {
    const long: Times = [
      [100, 150],
      [220, 270],
      [360, 410],
    ];
    const { loads } = analyze(recorded({ seed, rateHz: 1, durationS: 600, sigmaV: 0.01, extraV: dips(0.31, long) }));
    expect(loads.length).toBeGreaterThan(0);
    // A load of another depth than the dips' own would be an invention.
    const invented = loads.filter(({ verdict, depth }) => verdict === "responded" && depth!.high < 0.31);
    expect(invented).toEqual([]);
  });

  it.each([2])("a radio is keyed at random, seed %d", (seed) => {
    let keyed = false;
    const extraV: Plan["extraV"] = (_t, random) => {
      if (random.uniform() < 1 / 30) keyed = !keyed;
      return keyed ? -0.15 : 0;
    };
    expect(answerTo({ seed, extraV }).verdict).not.toBe("responded");
  });

  it("it overlaps a strong load whose shape the bank does not hold", () => {
    const strong: Times = [
      [20, 26],
      [34, 40],
      [48, 54],
    ];
    // Inrush, fast polarisation and a second-order meter, integrated in steps of 2 ms.
    let [timeS, batteryV, firstV, shownV] = [0, 0, 0, 0];
    const extraV = (until: number) => {
      for (; timeS < until - 1e-9; timeS += 0.002) {
        const on = strong.find(([onS, offS]) => timeS >= onS && timeS < offS);
        const current = on === undefined ? 0 : 1 + 0.6 * Math.exp(-(timeS - on[0]) / 1.2);
        batteryV += (0.002 * (0.4 * current - batteryV)) / 8;
        firstV += (0.002 * (current + batteryV - firstV)) / 0.15;
        shownV += (0.002 * (firstV - shownV)) / 0.3;
      }
      return -0.3 * shownV;
    };
    const silent = strong.map(([onS, offS]) => [onS + 3, offS + 3] as const);
    const marks = [...marksOf(strong, "strong"), ...marksOf(silent)];
    const both = { ...profile, loads: [{ id: "strong", kind: "heater", reference: false } as const, probe] };
    const { loads } = analyze(recorded({ rateHz: 20, extraV }), { marks, profile: both });
    expect(loads.find(({ id }) => id === "strong")!.verdict).toBe("responded");
    expect(loads.find(({ id }) => id === "probe")!.verdict).not.toBe("responded");
  });

  it.each([1, 2])("a slow logger shows a step far below its noise, %d readings a second", (rateHz) => {
    // Taken for a coarse display, one in four was called a response, many of them surely. Of 12, one at 1 in 10,000 has a
    // chance of 0.12 %.
    const marks = marksOf([20, 30, 40].map((onS) => [onS, onS + 5] as const));
    for (let seed = 1; seed <= 12; seed++) {
      const answer = answerTo({ seed, rateHz, sigmaV: 0.008, quantumV: 0.001 }, marks);
      expect(answer.pValue, `seed ${seed}`).toBeGreaterThan(1e-4);
    }
  });

  it("another load cycles by itself, about as fast as it is switched, and its edges miss the marks", () => {
    const wrong: number[] = [];
    let doubted = 0;
    for (let seed = 1; seed <= 24; seed++) {
      const phase = randomSource(900 + seed);
      const [periodS, onShare, startS] = [
        13 * (0.85 + 0.3 * phase.uniform()),
        0.3 + 0.4 * phase.uniform(),
        13 * phase.uniform(),
      ];
      const cycles = Array.from({ length: 9 }, (_, k) => {
        const onS = (k - 1) * periodS + startS + 0.1 * periodS * phase.normal();
        return [onS, onS + onShare * periodS] as const;
      });
      const { verdict, because } = answerTo({ seed, extraV: dips(0.12, cycles) });
      if (verdict === "responded") wrong.push(seed);
      if (because === "dips-beside-marks" || because === "marks-off") doubted += 1;
    }
    expect(wrong).toEqual([]);
    expect(doubted).toBeGreaterThan(3);
  });

  it("the bus is regulated", () => {
    const answer = answerTo({ levelV: 27.8, extraV: dips(0.2) });
    expect([answer.verdict, answer.because]).toEqual(["undecided", "source-regulated"]);
  });
});

describe("analyze() that says no response", () => {
  it("warns where no load shows that the bus dips at all: a ground supply would look the same", () => {
    const lamp = { id: "lamp", kind: "resistive", reference: false } as const;
    const both = { ...profile, loads: [probe, lamp] };
    const lampTimes: Times = [
      [26, 30],
      [40, 44],
      [54, 58],
    ];
    const warned = (lampV: number) => {
      const recording = recorded({ extraV: dips(lampV, lampTimes) });
      const { loads, warnings } = analyze(recording, {
        marks: [...marksOf(), ...marksOf(lampTimes, "lamp")],
        profile: both,
      });
      expect(loads.find(({ id }) => id === "probe")!.verdict).toBe("no response");
      return warnings.some(({ code }) => code === "nothing-dips");
    };
    expect([warned(0), warned(0.2)]).toEqual([true, false]);
  });
});

describe("analyze() never says no response for a load at its lowest acceptable current, when", () => {
  const DIP_V = 0.0735;

  it.each([1, 2, 3, 4])("a supply below the charging voltage holds the bus (seed %d)", (seed) => {
    const answer = answerTo({ seed, relaxationV: 0, levelV: 25.2 });
    expect([answer.verdict, answer.because]).toEqual(["undecided", "source-not-shown"]);
  });

  it.each([1, 5.5])("the marks are %d s late", (lateS) => {
    expect(answerTo({ extraV: dips(DIP_V) }, marksOf(SWITCHINGS, "probe", lateS)).verdict).not.toBe("no response");
  });

  it.each([
    ["0.1 V display that never flips", { levelV: 24.14, sigmaV: 0.001, quantumV: 0.1 }],
    ["1 V display", { levelV: 24, sigmaV: 0.02, quantumV: 1 }],
    ["value with four decimals that stands still", { levelV: 24.0873, sigmaV: 0, quantumV: 0.5 }],
  ])("it is hidden by a %s", (_name, plan) => {
    const answer = answerTo({ ...plan, relaxationV: 0, extraV: dips(DIP_V) });
    expect(answer.verdict).toBe("undecided");
  });

  it.each([24.0425])("a 0.1 V display stands at %d V", (levelV) => {
    for (const sigmaV of [0.01, 0.02]) {
      const plan = { levelV, sigmaV, relaxationV: 0, quantumV: 0.1, extraV: dips(DIP_V) };
      expect(answerTo(plan).verdict, `sigma ${sigmaV}`).not.toBe("no response");
    }
  });

  it.each([1, 2])("the needle lags by %d s", (lagS) => {
    const slow = (t: number) =>
      SWITCHINGS.reduce((sum, [onS, offS]) => {
        const step = (since: number) => (since <= 0 ? 0 : 1 - Math.exp(-since / lagS));
        return sum - DIP_V * (step(t - onS) - step(t - offS));
      }, 0);
    expect(answerTo({ extraV: slow }).verdict).toBe("responded");
  });

  it("another load was switched at the same times, so that either may have answered", () => {
    const twins = { ...profile, loads: [probe, { ...probe, id: "twin" }] };
    for (const marks of [
      [...marksOf(), ...marksOf(SWITCHINGS, "twin")],
      [...marksOf(), ...marksOf(SWITCHINGS, "twin", 0.2)],
    ]) {
      const { loads } = analyze(recorded({ extraV: dips(0.09) }), { marks, profile: twins });
      // One load too many would be a false response, one too few a false denial.
      expect(loads.map(({ verdict }) => verdict)).toEqual(["undecided", "undecided"]);
    }
  });

  it("on and off are exchanged in the marks", () => {
    const exchanged = marksOf().map((mark) => ({ ...mark, action: mark.action === "on" ? "off" : "on" }) as const);
    const answer = answerTo({ extraV: dips(DIP_V) }, exchanged);
    expect([answer.verdict, answer.because]).toEqual(["undecided", "wrong-direction"]);
  });

  it.each([0.2, 0.4])("another load of %d V goes off during one of the switchings", (riseV) => {
    for (const [onS, offS] of SWITCHINGS) {
      const extraV = (t: number) => dips(DIP_V)(t) - dips(riseV, [[onS + 0.6, offS - 0.3]])(t);
      const answer = answerTo({ extraV });
      expect(answer.verdict).not.toBe("no response");
      expect(answer.depth!.high, `from ${onS} s`).toBeGreaterThan(DIP_V);
    }
  });

  it.each([0.02, 0.05])("the meter cannot go beyond a voltage %d V above the bus on load", (aboveV) => {
    for (let seed = 1; seed <= 6; seed++) {
      const { timesS, voltagesV } = recorded({ seed, sigmaV: 0.012, relaxationV: 0, extraV: dips(DIP_V) });
      const cut = { timesS, voltagesV: voltagesV.map((v) => Math.min(v, 24.1 - DIP_V + aboveV)) };
      const { loads, warnings } = analyze(cut, { marks: marksOf(), profile });
      expect(loads[0]!.verdict, `seed ${seed}`).not.toBe("no response");
      // What is cut off of a dip nobody can tell.
      expect([loads[0]!.depth, loads[0]!.current]).toEqual([null, null]);
      expect(warnings.map(({ code }) => code)).toContain("meter-at-end");
    }
  });

  it("nobody marked whether it was switched at all", () => {
    expect(analyze(recorded({}), { profile }).loads[0]!.verdict).toBe("undecided");
  });

  it("the recording ends before the load is switched, or lies in a gap", () => {
    expect(answerTo({}, marksOf([[100, 105]])).because).toBe("never-switched");
    const { timesS, voltagesV } = recorded({ extraV: dips(DIP_V) });
    const seen = (_: number, i: number) => timesS[i]! < 18 || timesS[i]! > 55;
    const gapped = { timesS: timesS.filter(seen), voltagesV: voltagesV.filter(seen) };
    expect(analyze(gapped, { marks: marksOf(), profile }).loads[0]!.verdict).toBe("undecided");
  });

  // A quick meter, and a hand that hides it for as long as it holds the switch.
  it("nobody read the meter while the load was on", () => {
    const atOnce = (t: number) => (SWITCHINGS.some(([onS, offS]) => t >= onS && t < offS) ? -DIP_V : 0);
    const { timesS, voltagesV } = recorded({ extraV: atOnce });
    const hiding = (switchings: Times) => {
      const seen = (_: number, i: number) =>
        !switchings.some(([onS, offS]) => timesS[i]! >= onS && timesS[i]! < offS + 0.05);
      const read = { timesS: timesS.filter(seen), voltagesV: voltagesV.filter(seen) };
      return analyze(read, { marks: marksOf(), profile });
    };
    const { loads, assumptions } = hiding(SWITCHINGS);
    expect([loads[0]!.verdict, loads[0]!.because]).toEqual(["undecided", "never-switched"]);
    const left = assumptions.filter((one) => one.code === "mark-ignored" && one.why === "no-readings-near");
    expect(left).toHaveLength(2 * SWITCHINGS.length);
    // Those that were read are judged alone, and the depth is theirs.
    const { loads: some } = hiding(SWITCHINGS.slice(0, 1));
    expect([some[0]!.verdict, some[0]!.switchingCount]).toEqual(["responded", 2]);
    expect(some[0]!.depth!.low).toBeLessThan(DIP_V);
    expect(some[0]!.depth!.high).toBeGreaterThan(DIP_V);
  });
});

describe("analyze() of difficult recordings", () => {
  it.each([1, 2, 3])("a heater called resistive: the interval holds its settled depth, seed %d", (seed) => {
    const settling = (t: number) =>
      SWITCHINGS.reduce((sum, [onS, offS]) => {
        const drawn = t >= onS && t < offS ? 1 + Math.exp(-(t - onS) / 2) : 0;
        return sum - 0.12 * drawn;
      }, 0);
    const { depth } = answerTo({ seed, extraV: settling });
    expect(depth!.low).toBeLessThan(0.12);
    expect(depth!.high).toBeGreaterThan(0.12);
  });

  it.each([0.1, 0.3])(
    "another load adds a dip of %d V to one of four switchings: the interval holds both",
    (otherV) => {
      const times: Times = [...SWITCHINGS, [59, 64]];
      const extraV = (t: number) => dips(0.12, times)(t) + dips(otherV, [[33, 38.5]])(t);
      const { depth } = answerTo({ extraV }, marksOf(times));
      expect(depth!.low).toBeLessThan(0.12);
      expect(depth!.high).toBeGreaterThan(0.12);
    },
  );

  it.each([
    ["0.5 Hz", { rateHz: 0.5, durationS: 80 }],
    ["1 Hz", { rateHz: 1 }],
    ["1 kHz", { rateHz: 1000, sigmaV: 0.05 }],
  ])("%s: a dip of 120 mV responded, within four standard uncertainties", (_name, plan) => {
    const answer = answerTo({ ...plan, extraV: dips(0.12) });
    expect(answer.verdict).toBe("responded");
    expect(Math.abs(answer.depth!.value - 0.12)).toBeLessThan(4 * answer.depth!.u);
    expect(answer.depth!.u).toBeLessThan(0.03);
  });

  it("10 kHz: one switching among 400,000 readings", () => {
    const answer = answerTo(
      { rateHz: 10_000, durationS: 40, sigmaV: 0.05, extraV: dips(0.12, [[20, 25]]) },
      marksOf([[20, 25]]),
    );
    expect(answer.verdict).toBe("responded");
    expect(Math.abs(answer.depth!.value - 0.12)).toBeLessThan(4 * answer.depth!.u);
  });

  it("outliers of fifty volts in every hundredth reading", () => {
    const outliers: Plan["extraV"] = (t, random) =>
      dips(0.12)(t) + (random.uniform() < 0.01 ? 50 * random.normal() : 0);
    const answer = answerTo({ seed: 3, rateHz: 20, extraV: outliers });
    expect(answer.verdict).toBe("responded");
    expect(Math.abs(answer.depth!.value - 0.12)).toBeLessThan(4 * answer.depth!.u);
  });

  it("a clock that tells whole seconds only, so that ten readings share each time", () => {
    const { timesS, voltagesV } = recorded({ extraV: dips(0.12) });
    const answer = analyze({ timesS: timesS.map(Math.floor), voltagesV }, { marks: marksOf(), profile }).loads[0]!;
    expect(answer.verdict).toBe("responded");
    expect(Math.abs(answer.depth!.value - 0.12)).toBeLessThan(4 * answer.depth!.u);
  });

  it("a load left on is judged by its switching on alone", () => {
    const answer = answerTo({ extraV: dips(0.12, [[40, 999]]) }, [{ timeS: 40, load: "probe", action: "on" }]);
    expect(answer.switchingCount).toBe(1);
    expect(Math.abs(answer.depth!.value - 0.12)).toBeLessThan(4 * answer.depth!.u);
  });

  it("two readings, four at one moment, and readings that never change are undecided", () => {
    const cases = [
      [Float64Array.of(0, 60), Float64Array.of(24, 24.1)],
      [Float64Array.of(30, 30, 30, 30), Float64Array.of(24, 24.1, 24, 24)],
      [Float64Array.from({ length: 750 }, (_, i) => i / 10), new Float64Array(750).fill(24.1)],
    ] as const;
    for (const [timesS, voltagesV] of cases) {
      const { loads } = analyze({ timesS, voltagesV }, { marks: marksOf(), profile });
      expect(loads.map(({ verdict }) => verdict)).toEqual(["undecided"]);
    }
  });

  it("two loads at once get their own depths, however they overlap", () => {
    const second: Times = [
      [22, 28],
      [36, 42],
      [49, 55],
    ];
    const two = { ...profile, loads: [probe, { ...probe, id: "lamp" }] };
    const extraV = (t: number) => dips(0.12)(t) + dips(0.3, second)(t);
    const { loads } = analyze(recorded({ extraV }), {
      marks: [...marksOf(), ...marksOf(second, "lamp")],
      profile: two,
    });
    for (const [id, truth] of [
      ["probe", 0.12],
      ["lamp", 0.3],
    ] as const) {
      const answer = loads.find((one) => one.id === id)!;
      expect(answer.verdict, id).toBe("responded");
      expect(Math.abs(answer.depth!.value - truth), id).toBeLessThan(4 * answer.depth!.u);
    }
  });

  it.each([
    [
      Float64Array.of(0),
      Float64Array.of(24),
      "Cannot judge a recording: at least 2 readings with a time each are needed, got 1",
    ],
    [
      Float64Array.of(0, 2, 1),
      Float64Array.of(24, 24, 24),
      "Cannot judge a recording: times must not go back, they do at reading 2",
    ],
    [
      Float64Array.of(0, 1),
      Float64Array.of(24, Number.NaN),
      "Cannot judge a recording: every reading must be finite, reading 1 is not",
    ],
  ])("refuses what is no recording, in one sentence", (timesS, voltagesV, sentence) => {
    expect(() => analyze({ timesS, voltagesV })).toThrow(new RangeError(sentence));
  });
});
