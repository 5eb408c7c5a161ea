import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";

const SWITCHINGS = [
  [20, 25],
  [33, 38],
  [46, 51],
] as const;
const profile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  loads: [{ id: "probe", kind: "resistive", acceptA: [6, 14], reference: true, ratedA: { value: 8, u: 0.2 } } as const],
};

interface Plan {
  readonly depthV?: number;
  readonly lagS?: number;
  /** Current right after switching on, over the settled one. */
  readonly inrush?: number;
  readonly sigmaV?: number;
}

/** 70 s at 10 Hz of a load on at `SWITCHINGS`, through a meter with a lag, integrated in steps of 2 ms. */
function recorded({ depthV = 0.1, lagS = 0.2, inrush = 1, sigmaV = 0.01 }: Plan) {
  const random = randomSource(5);
  const timesS = Float64Array.from({ length: 700 }, (_, i) => i / 10);
  let [steps, shownV] = [0, 0];
  const voltagesV = timesS.map((timeS) => {
    for (; steps * 0.002 < timeS - 1e-9; steps++) {
      const on = SWITCHINGS.find(([onS, offS]) => steps * 0.002 >= onS && steps * 0.002 < offS);
      const current = on === undefined ? 0 : 1 + (inrush - 1) * Math.exp(-(steps * 0.002 - on[0]) / 0.3);
      shownV += (0.002 * (depthV * current - shownV)) / lagS;
    }
    return 24.1 + 0.3 * Math.exp(-timeS / 60) - shownV + sigmaV * random.normal();
  });
  return { timesS, voltagesV };
}

function judged(plan: Plan, lateS: number, markUncertaintyS = 0.2) {
  const marks = SWITCHINGS.flatMap(([onS, offS]): SwitchingMark[] => [
    { timeS: onS + lateS, load: "probe", action: "on" },
    { timeS: offS + lateS, load: "probe", action: "off" },
  ]);
  const { loads, warnings, assumptions, battery } = analyze(recorded(plan), { marks, profile, markUncertaintyS });
  const off = warnings.find(({ code }) => code === "marks-off");
  return { answer: loads[0]!, laterS: off?.code === "marks-off" ? off.laterS : null, assumptions, battery };
}

describe("marks that all lie further from the dips than was told of them", () => {
  it.each([1.3, -1.5, -2.2])("by %d s leave the load undecided, with no number made of it", (lateS) => {
    const { answer, laterS, assumptions, battery } = judged({}, lateS);
    expect([answer.verdict, answer.because]).toEqual(["undecided", "marks-off"]);
    // The steps of the search, and the meter's lag.
    expect(Math.abs(laterS! + lateS)).toBeLessThan(0.4);
    expect([answer.depth, answer.current]).toEqual([null, null]);
    // The reference load's dips tell no resistance either.
    expect(battery.source!.resistance.route).toBe("known-resistance");
    expect(assumptions).toContainEqual({ code: "not-identifiable", what: "depth", load: "probe", why: "marks-off" });
  });

  it.each([1, -1])("show no depth of a strong load with a fourfold inrush, %d s off", (lateS) => {
    for (const lagS of [0.05, 0.3]) {
      const { answer } = judged({ depthV: 3, inrush: 4, lagS, sigmaV: 0.005 }, lateS);
      expect([answer.because, answer.depth]).toEqual(["marks-off", null]);
    }
  });

  it("are as good as others once they are said to be known so badly", () => {
    const { answer, laterS } = judged({}, 1.3, 0.7);
    expect([answer.verdict, laterS]).toEqual(["responded", null]);
  });
});

describe("marks are not found off", () => {
  it.each([
    ["by a hand that is 0.5 s late", {}, 0.5],
    ["by a meter that follows in 1.3 s, which nobody told", { lagS: 1.3 }, 0.3],
    ["by a load that starts cold", { depthV: 1, inrush: 4 }, 0.2],
    ["by nothing at all", { depthV: 0 }, 0],
  ] as const)("%s", (_, plan, lateS) => {
    const { answer, laterS } = judged(plan, lateS);
    expect(laterS).toBeNull();
    expect(answer.because).not.toBe("marks-off");
  });
});
