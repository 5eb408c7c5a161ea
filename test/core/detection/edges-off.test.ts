import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";

const profile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  loads: [{ id: "probe", kind: "resistive", acceptA: [3, 24], reference: false } as const],
};
type Times = readonly (readonly [number, number])[];

/** Dips of 0.15 V at one list of times, marks at another; 24 s at 20 Hz. */
function judged(dips: Times, marked: Times) {
  const random = randomSource(1);
  const timesS = Float64Array.from({ length: 480 }, (_, i) => i / 20);
  const risen = (sinceS: number) => (sinceS <= 0 ? 0 : 1 - Math.exp(-sinceS / 0.1));
  const voltagesV = timesS.map((t) => {
    const shownV = dips.reduce((sum, [onS, offS]) => sum + 0.15 * (risen(t - onS) - risen(t - offS)), 0);
    return 24.4 - 0.002 * t - shownV + 0.003 * random.normal();
  });
  const marks = marked.flatMap(([onS, offS]): SwitchingMark[] => [
    { timeS: onS, load: "probe", action: "on" },
    { timeS: offS, load: "probe", action: "off" },
  ]);
  const { verdict, because } = analyze({ timesS, voltagesV }, { marks, profile }).loads[0]!;
  return [verdict, because];
}

/** Switchings of a dead load, and of another one in about its rhythm: two of an attack with random times. */
const BESIDE: readonly (readonly [Times, Times])[] = [
  [
    [
      [2.1, 4.4],
      [6.3, 8.8],
      [11.3, 13.4],
      [15.3, 17.7],
    ],
    [
      [1.7, 4.7],
      [7.3, 10.3],
      [12.3, 15.9],
      [18.3, 20.5],
    ],
  ],
  [
    [
      [2, 4.4],
      [7.2, 9.2],
      [11.8, 14.1],
      [15.7, 18.1],
    ],
    [
      [2.9, 6.5],
      [8.5, 10.2],
      [12, 13.3],
      [17.1, 20.5],
    ],
  ],
];

describe("analyze() of marks known to 0.2 s", () => {
  it.each(BESIDE)("gives a load no dips whose edges lie up to 3 s off its marks, each its own way", (marked, dips) => {
    expect(judged(dips, marked)).toEqual(["undecided", "dips-beside-marks"]);
  });

  it("takes the same dips at their own marks, set by a hand that was 1 s late once", () => {
    const slips = [0.2, -0.3, 0.1, 1, -0.2, 0.3, 0.4, -0.1];
    for (const [, dips] of BESIDE) {
      const marked = dips.map(([onS, offS], k) => [onS + slips[2 * k]!, offS + slips[2 * k + 1]!] as const);
      expect(judged(dips, marked)[0]).toBe("responded");
    }
  });
});
