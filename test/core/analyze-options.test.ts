import { describe, expect, it } from "vitest";
import { checkOptions } from "../../src/core/analyze-options.js";
import { analyze } from "../../src/core/index.js";
import { randomGenerator } from "../../src/core/statistics/random.js";

const random = randomGenerator(5);
const timesS = Float64Array.from({ length: 300 }, (_, i) => i / 10);
const recording = { timesS, voltagesV: timesS.map(() => 24 + 0.01 * random.normal()) };

describe("analyze() refuses options that mean nothing", () => {
  it.each([
    [{ falseAlarmRate: 0 }, "falseAlarmRate must lie between 0 and 0.5, both left out, got 0"],
    [{ falseAlarmRate: 1 }, "falseAlarmRate must lie between 0 and 0.5, both left out, got 1"],
    [{ power: 1 }, "power must lie between 0.5 and 1, both left out, got 1"],
    [{ power: Number.NaN }, "power must lie between 0.5 and 1, both left out, got NaN"],
    [{ markUncertaintyS: -0.1 }, "markUncertaintyS must be 0 s or more, got -0.1"],
    [{ cadence: { onS: 0, offS: 5 } }, "cadence.onS must be above 0 s, got 0"],
    [{ cadence: { onS: 5, offS: Number.POSITIVE_INFINITY } }, "cadence.offS must be above 0 s, got Infinity"],
    [{ cadence: { onS: 5, offS: 5, switchingCount: 2.5 } }, "cadence.switchingCount must be a whole number from 1 on"],
    [{ seed: 0.5 }, "seed must be a whole number, got 0.5"],
    [{ marks: [{ timeS: Number.NaN, load: null, action: "on" as const }] }, "marks[0].timeS must be a finite number"],
  ])("%j", (options, sentence) => {
    expect(() => analyze(recording, options)).toThrow(RangeError);
    expect(() => analyze(recording, options)).toThrow(sentence);
  });

  it("and takes ordinary ones", () => {
    const options = { falseAlarmRate: 0.05, power: 0.9, markUncertaintyS: 0, cadence: null, seed: 3, marks: [] };
    expect(analyze(recording, options).detection.falseAlarmRate).toBe(0.05);
  });
});

describe("checkOptions()", () => {
  const refuses = (options: Parameters<typeof checkOptions>[0]) => {
    try {
      checkOptions(options);
      return false;
    } catch (error) {
      return error instanceof RangeError;
    }
  };

  it("refuses at the ends of every range, and takes what lies within", () => {
    for (const falseAlarmRate of [0, 0.5, -1]) expect(refuses({ falseAlarmRate }), `${falseAlarmRate}`).toBe(true);
    for (const falseAlarmRate of [1e-9, 0.499]) expect(refuses({ falseAlarmRate }), `${falseAlarmRate}`).toBe(false);
    for (const power of [0.5, 1]) expect(refuses({ power }), `${power}`).toBe(true);
    for (const power of [0.501, 0.999]) expect(refuses({ power }), `${power}`).toBe(false);
    for (const markUncertaintyS of [0, 3]) expect(refuses({ markUncertaintyS })).toBe(false);
    for (const onS of [0, -1]) expect(refuses({ cadence: { onS, offS: 1 } })).toBe(true);
    for (const offS of [0, -1]) expect(refuses({ cadence: { onS: 1, offS } })).toBe(true);
    for (const switchingCount of [0, -1, 1.5])
      expect(refuses({ cadence: { onS: 1, offS: 1, switchingCount } })).toBe(true);
    expect(refuses({ cadence: { onS: 0.1, offS: 0.1, switchingCount: 1 } })).toBe(false);
    for (const value of [-90.1, 120.1]) expect(refuses({ temperatureC: { value, u: 1 } })).toBe(true);
    for (const value of [-90, 0, 120]) expect(refuses({ temperatureC: { value, u: 0 } })).toBe(false);
    expect(refuses({ temperatureC: { value: 20, u: -0.1 } })).toBe(true);
    for (const value of [-0.01, 1.01]) expect(refuses({ stateOfCharge: { value, u: 0 } })).toBe(true);
    for (const value of [0, 1]) expect(refuses({ stateOfCharge: { value, u: 0 } })).toBe(false);
    expect(refuses({ stateOfCharge: { value: 0.5, u: -0.1 } })).toBe(true);
    expect(refuses({ seed: -5 })).toBe(false);
    expect(refuses({ cadence: null, temperatureC: null, stateOfCharge: null, marks: null })).toBe(false);
  });
});

describe("a coarse clock", () => {
  it("makes marked times as uncertain as its steps", () => {
    const marks = [
      { timeS: 10, load: null, action: "on" as const },
      { timeS: 15, load: null, action: "off" as const },
    ];
    const jitter = (clockResolutionS: number) => {
      const { assumptions } = analyze({ ...recording, clockResolutionS }, { marks, markUncertaintyS: 0.1 });
      return assumptions.find((one) => one.code === "switching-from-marks");
    };
    // A rectangular distribution of width w has the standard deviation w / sqrt 12 (JCGM 100, 4.3.7).
    expect(jitter(0)).toMatchObject({ jitterS: 0.1 });
    expect(jitter(1)!.jitterS).toBeCloseTo(Math.hypot(0.1, 1 / Math.sqrt(12)), 9);
  });
});
