import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { analyze, type SwitchingMark } from "../../../src/core/index.js";
import { unpoweredWarning, withoutUnpowered } from "../../../src/core/series/unpowered.js";

/** Twenty seconds at 10 Hz, 24 V but for the stretches told. */
function bus(off: readonly (readonly [number, number])[], offV = 0) {
  const timesS = Float64Array.from({ length: 200 }, (_, i) => i / 10);
  const voltagesV = timesS.map((t) => (off.some(([fromS, toS]) => t >= fromS && t < toS) ? offV : 24));
  return { timesS, voltagesV, readingUncertaintiesV: timesS.map((t) => 1 + t) };
}

describe("withoutUnpowered()", () => {
  it("leaves out what lies below half of the usual voltage, half a second before it and two after", () => {
    const { recording, unpowered } = withoutUnpowered(
      bus([
        [0, 3],
        [10, 11],
      ]),
    );
    const kept = bus([]).timesS.filter((t) => (t > 4.9001 && t < 9.4999) || t > 12.9001);
    expect([...recording.timesS]).toEqual([...kept]);
    expect([...recording.readingUncertaintiesV!]).toEqual([...kept.map((t) => 1 + t)]);
    expect(recording.voltagesV.every((v) => v === 24)).toBe(true);
    expect(unpowered!.stretchCount).toBe(2);
    expect(unpowered!.totalS).toBeCloseTo(4.9 + 3.4, 9);
    expect(unpowered!.endS).toBeCloseTo(12.9, 9);
    expect(unpoweredWarning(unpowered)).toEqual([{ code: "bus-unpowered", ...unpowered }]);
  });

  it("counts what comes back for less than it takes to settle as one stretch", () => {
    // Power from 5 s to 7.4 s, of which half a second before and two after are left out: nothing is left.
    const joined = withoutUnpowered(
      bus([
        [2, 5],
        [7.4, 10],
        [15, 16],
      ]),
    ).unpowered!;
    expect(joined.stretchCount).toBe(2);
    expect(joined.totalS).toBeCloseTo(11.9 - 1.5 + (17.9 - 14.5), 9);
    const apart = withoutUnpowered(
      bus([
        [2, 5],
        [7.6, 10],
      ]),
    );
    expect(apart.unpowered!.stretchCount).toBe(2);
    expect(apart.recording.timesS.filter((t) => t > 5 && t < 7.6)).toHaveLength(1);
  });

  it.each([
    ["a bus with power throughout", bus([])],
    ["a dip that leaves more than half", bus([[5, 8]], 12.1)],
    [
      "a logger that writes nothing now and then",
      bus([
        [5, 5.15],
        [9, 9.15],
      ]),
    ],
    ["a bus that never had power", bus([[0, 20]], 0.3)],
    ["one that has it for a moment only", bus([[0, 19.5]])],
    ["readings of which times are missing", { ...bus([[0, 3]]), timesS: new Float64Array(3) }],
  ])("leaves %s alone", (_, recording) => {
    expect(withoutUnpowered(recording)).toEqual({ recording, unpowered: null });
    expect(unpoweredWarning(null)).toEqual([]);
  });
});

describe("analyze() of a recording that begins before the bus has power", () => {
  it("judges what follows as it would alone", () => {
    const random = randomSource(3);
    const times = [20, 30, 40];
    const marks = times.flatMap((onS): SwitchingMark[] => [
      { timeS: onS, load: "probe", action: "on" },
      { timeS: onS + 5, load: "probe", action: "off" },
    ]);
    const timesS = Float64Array.from({ length: 600 }, (_, i) => i / 10);
    const isOn = (t: number) => times.some((onS) => t >= onS && t < onS + 5);
    const voltagesV = timesS.map((t) => {
      if (t < 4) return 0.02 * random.normal();
      return 24.2 + 0.5 * Math.exp(-(t - 4) / 0.3) - (isOn(t) ? 0.05 : 0) + 0.01 * random.normal();
    });
    const { loads, warnings, recording } = analyze({ timesS, voltagesV }, { marks });
    expect(loads[0]!.verdict).toBe("responded");
    expect(Math.abs(loads[0]!.depth!.value - 0.05)).toBeLessThan(3 * loads[0]!.depth!.u);
    expect(warnings.map(({ code }) => code)).toContain("bus-unpowered");
    expect(recording.lowestV).toBeGreaterThan(24);
  });
});
