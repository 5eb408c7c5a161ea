import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";
import { heldWarning, withoutHeld } from "../../../src/core/series/held-stretches.js";

/** Two hundred readings at 10 Hz that scatter by `steps` steps of a millivolt, and stand still in the stretches told. */
function scattered(steps: number, held: readonly (readonly [number, number])[], seed = 1) {
  const random = randomSource(seed);
  const voltagesV = Float64Array.from({ length: 200 }, () => Math.round(24_000 + steps * random.normal()) / 1000);
  for (const [from, to] of held) voltagesV.fill(voltagesV[from]!, from, to);
  return { timesS: voltagesV.map((_, i) => i / 10), voltagesV };
}

describe("withoutHeld()", () => {
  it("keeps the first reading of each stretch that stands still among readings that scatter, with its uncertainty", () => {
    const recording = scattered(12, [
      [30, 50],
      [120, 190],
    ]);
    const readingUncertaintiesV = recording.timesS.map((_, i) => i);
    const { recording: without, held } = withoutHeld({ ...recording, readingUncertaintiesV }, null);
    const kept = Array.from({ length: 200 }, (_, i) => i).filter((i) => !(i > 30 && i < 50) && !(i > 120 && i < 190));
    expect([...without.readingUncertaintiesV!]).toEqual(kept);
    expect([...without.timesS]).toEqual(kept.map((i) => i / 10));
    expect([...without.voltagesV]).toEqual(kept.map((i) => recording.voltagesV[i]));
    expect(held!.stretchCount).toBe(2);
    expect(held!.longestS).toBeCloseTo(6.9, 9);
    expect(held!.totalS).toBeCloseTo(8.8, 9);
    expect(heldWarning(held)).toEqual([{ code: "readings-held", ...held }]);
    expect("readingUncertaintiesV" in withoutHeld(recording, null).recording).toBe(false);
  });

  it("takes the last stretch as well as the first", () => {
    expect(withoutHeld(scattered(12, [[180, 200]]), null).recording.timesS).toHaveLength(181);
    expect(withoutHeld(scattered(12, [[0, 20]]), null).recording.timesS).toHaveLength(181);
  });

  it.each([
    ["readings of a coarse display", scattered(0.4, [[50, 90]])],
    ["readings that scatter throughout", scattered(12, [])],
    ["a stretch that chance may make", scattered(3, [[50, 54]])],
    ["a recording that stands still for good", scattered(12, [[0, 200]])],
  ])("leaves %s alone", (_, recording) => {
    const { recording: kept, held } = withoutHeld(recording, null);
    expect(kept).toBe(recording);
    expect(held).toBeNull();
    expect(heldWarning(held)).toEqual([]);
  });

  /** Readings that all differ, but for so many pairs in a row before a stretch of equal ones, and what is left of the stretch. */
  function keptOf(before: number, pairs: number, length: number, after: number): number {
    const voltagesV = Float64Array.from({ length: before + length + after }, (_, i) => 24 + (i % 97) / 1000);
    voltagesV.fill(25, before, before + length);
    for (let k = 0; k < pairs; k++) voltagesV[before - 4 * k - 3] = voltagesV[before - 4 * k - 4]!;
    const { recording } = withoutHeld({ timesS: voltagesV.map((_, i) => i / 10), voltagesV }, null);
    return recording.voltagesV.filter((v) => v === 25).length;
  }

  it("holds a stretch where n p^(L-1) is below a millionth, p by Laplace's rule of succession of the 60 pairs beside", () => {
    // About n = 200. None of 60 equal: p = 1/62, n p^4 = 1.4e-5, n p^5 = 2.2e-7.
    expect([5, 6].map((length) => keptOf(100, 0, length, 95))).toEqual([5, 1]);
    // Two of 60 equal: p = 3/62, n p^6 = 2.6e-6, n p^7 = 1.2e-7.
    expect([7, 8].map((length) => keptOf(100, 2, length, 93))).toEqual([7, 1]);
  });

  it("judges by ten pairs beside a stretch and no fewer", () => {
    expect(keptOf(6, 0, 30, 6)).toBe(1);
    expect(keptOf(6, 0, 30, 5)).toBe(30);
  });

  it("leaves readings at an end of the meter's range alone", () => {
    const recording = scattered(12, [[50, 90]]);
    expect(withoutHeld(recording, recording.voltagesV[50]!).held).toBeNull();
  });
});

describe("analyze() of a display that holds while a load is on", () => {
  const profile = {
    battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
    pathResistanceOhm: { value: 0.003, u: 0.0003 },
    loads: [{ id: "probe", kind: "resistive", acceptA: [4, 14], reference: false } as const],
  };
  const times = [
    [20, 25],
    [33, 38],
    [46, 51],
  ] as const;
  const marks = times.flatMap(([onS, offS]): SwitchingMark[] => [
    { timeS: onS, load: "probe", action: "on" },
    { timeS: offS, load: "probe", action: "off" },
  ]);
  const recorded = (seed: number, depthV: number) => {
    const random = randomSource(seed);
    const timesS = Float64Array.from({ length: 700 }, (_, i) => i / 10);
    const voltagesV = timesS.map((t) => {
      const isOn = times.some(([onS, offS]) => t >= onS && t < offS);
      return Math.round(1000 * (24.2 - (isOn ? depthV : 0) + 0.012 * random.normal())) / 1000;
    });
    // Held from the moment of switching on, before the voltage has fallen.
    for (const [onS, offS] of times) voltagesV.fill(voltagesV[onS * 10 - 1]!, onS * 10, offS * 10);
    return { timesS, voltagesV };
  };

  it("neither hears a dead load in one reading a switching, nor misses a live one that was hidden", () => {
    for (let seed = 1; seed <= 12; seed++) {
      for (const depthV of [0, 0.1]) {
        const { loads, warnings } = analyze(recorded(seed, depthV), { marks, profile });
        expect(loads[0]!.verdict).toBe("undecided");
        expect(warnings.map(({ code }) => code)).toContain("readings-held");
      }
    }
  });
});
