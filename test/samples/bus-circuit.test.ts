import { describe, expect, it } from "vitest";
import { type SimulatedBattery, type SimulatedLoad, simulateBus } from "../../samples/simulator/bus-circuit.js";

const stiff: SimulatedBattery = {
  openCircuitV: 25,
  relaxationV: 0,
  relaxationTimeS: 100,
  ohmicOhm: 0.01,
  polarizationOhm: 0,
  polarizationTimeS: 10,
  pathOhm: 0.0025,
};
const noBase = { law: "dead" } as const;
const stepS = 0.01;

function run(battery: SimulatedBattery, load: SimulatedLoad, durationS: number, onS = 1, offS = durationS) {
  const switchings = [{ load: load.id, onS, offS }];
  return simulateBus({ battery, baseLoad: noBase, loads: [load], switchings, durationS, stepS });
}
const at = (series: Float64Array, timeS: number) => series[Math.round(timeS / stepS)]!;

describe("simulateBus()", () => {
  it("a resistance forms a voltage divider with the source", () => {
    // Ohm's law: 25 V x 3.1 Ohm / (3.1 Ohm + 0.0125 Ohm).
    const signal = run(stiff, { id: "lamp", draw: { law: "resistance", conductanceS: 1 / 3.1 } }, 3);
    expect(at(signal.voltagesV, 0.5)).toBe(25);
    expect(at(signal.voltagesV, 2)).toBeCloseTo((25 * 3.1) / 3.1125, 6);
    expect(at(signal.currentsA, 2)).toBeCloseTo(25 / 3.1125, 6);
  });

  it("a constant power obeys both P = V I and V = E - R I", () => {
    const signal = run(stiff, { id: "radio", draw: { law: "power", powerW: 120 } }, 3);
    const [voltageV, currentA] = [at(signal.voltagesV, 2), at(signal.currentsA, 2)];
    expect(voltageV * currentA).toBeCloseTo(120, 6);
    expect(voltageV).toBeCloseTo(25 - 0.0125 * currentA, 6);
  });

  it("a dead load changes nothing", () => {
    const signal = run(stiff, { id: "open", draw: { law: "dead" } }, 3);
    expect(new Set(signal.voltagesV)).toEqual(new Set([25]));
  });

  it("a cold heater draws its excess at first and settles with its time constant", () => {
    const heater = { law: "heater", conductanceS: 0.2, coldExcess: 1, warmingTimeS: 3, coolingTimeS: 20 } as const;
    const signal = run(stiff, { id: "probe", draw: heater }, 40, 1, 30);
    const settledA = at(signal.currentsA, 29);
    expect(at(signal.currentsA, 1) / settledA).toBeCloseTo(2, 1);
    // One time constant after switching on, 1 + exp(-1) of the settled current.
    expect(at(signal.currentsA, 4) / settledA).toBeCloseTo(1 + Math.exp(-1), 2);
  });

  it("polarisation comes in with its time constant and stays after the load is gone", () => {
    const slow = { ...stiff, polarizationOhm: 0.004, polarizationTimeS: 8 };
    const signal = run(slow, { id: "lamp", draw: { law: "current", currentA: 10 } }, 30, 1, 9);
    expect(25 - at(signal.voltagesV, 1)).toBeCloseTo(0.125, 5);
    expect(25 - at(signal.voltagesV, 8.99)).toBeCloseTo(0.125 + 0.04 * (1 - Math.exp(-1)), 4);
    expect(25 - at(signal.voltagesV, 17)).toBeCloseTo(0.04 * (1 - Math.exp(-1)) * Math.exp(-1), 4);
  });

  it("a relaxing level dies away exponentially", () => {
    const rested = { ...stiff, relaxationV: 0.6, relaxationTimeS: 20 };
    const signal = run(rested, { id: "open", draw: { law: "dead" } }, 30);
    expect(at(signal.voltagesV, 20)).toBeCloseTo(25 + 0.6 * Math.exp(-1), 6);
  });
});
