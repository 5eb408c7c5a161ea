import { describe, expect, it } from "vitest";
import { type EnduranceInput, endurance } from "../../../src/core/battery/endurance.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const options = () => ({ coverage: 0.95, random: randomGenerator(3) });
const input: EnduranceInput = {
  capacityAh: 44,
  chemistry: "lead-acid",
  busCurrentA: { value: 30, u: 1.5 },
  temperatureC: { value: 15, u: 3 },
  requiredMin: 30,
};

function known(changes: Partial<EnduranceInput> = {}) {
  const answer = endurance({ ...input, ...changes }, options());
  if (!answer.known) throw new Error(answer.reason);
  return answer;
}

describe("endurance()", () => {
  it("falls with the current faster than in proportion for lead-acid, hardly so for li-ion", () => {
    const ratio = (chemistry: "lead-acid" | "li-ion") =>
      known({ chemistry, busCurrentA: { value: 20, u: 0.1 } }).minutes /
      known({ chemistry, busCurrentA: { value: 40, u: 0.1 } }).minutes;
    expect(ratio("lead-acid")).toBeCloseTo(2 ** 1.15, 9);
    expect(ratio("li-ion")).toBeCloseTo(2 ** 1.03, 9);
  });

  it("falls in the cold and not in the warm", () => {
    expect(known({ temperatureC: { value: -10, u: 3 } }).minutes).toBeLessThan(0.9 * known().minutes);
    const warm = (value: number) => known({ temperatureC: { value, u: 0 } }).minutes;
    expect(warm(40)).toBe(warm(30));
  });

  it("its interval holds the value and widens with an uncertain current", () => {
    const sharp = known({ busCurrentA: { value: 30, u: 0.1 } });
    const blunt = known({ busCurrentA: { value: 30, u: 6 } });
    expect(sharp.lowMin).toBeLessThan(sharp.minutes);
    expect(sharp.highMin).toBeGreaterThan(sharp.minutes);
    expect(blunt.highMin - blunt.lowMin).toBeGreaterThan(1.3 * (sharp.highMin - sharp.lowMin));
    expect(blunt.method).toBe("monte-carlo");
  });

  it("the rows of the budget add up to the first-order uncertainty, by numeric differences", () => {
    const step = 1e-4;
    const [capacity, current] = known().rows;
    const byCapacity =
      (known({ capacityAh: 44 + step }).minutes - known({ capacityAh: 44 - step }).minutes) / (2 * step);
    const at = (value: number) => known({ busCurrentA: { value, u: 1.5 } }).minutes;
    expect(capacity.sensitivity).toBeCloseTo(byCapacity, 6);
    expect(current.sensitivity).toBeCloseTo((at(30 + step) - at(30 - step)) / (2 * step), 5);
  });

  it("says whether the required time is met, and says nothing while the interval holds it", () => {
    expect(known({ requiredMin: 30 }).meets).toBe(true);
    expect(known({ requiredMin: 300 }).meets).toBe(false);
    expect(known({ requiredMin: known().minutes }).meets).toBeNull();
    expect(endurance({ ...input, requiredMin: undefined as never }, options())).toMatchObject({ meets: null });
  });

  it("refuses without capacity, chemistry or current, each with its reason", () => {
    const { capacityAh: _capacity, ...noCapacity } = input;
    const { chemistry: _chemistry, ...noChemistry } = input;
    const { busCurrentA: _current, ...noCurrent } = input;
    expect(endurance(noCapacity, options())).toEqual({ known: false, reason: "no-capacity" });
    expect(endurance(noChemistry, options())).toEqual({ known: false, reason: "no-chemistry" });
    expect(endurance(noCurrent, options())).toEqual({ known: false, reason: "no-bus-current" });
    expect(endurance({ ...input, busCurrentA: { value: 3, u: 2 } }, options())).toEqual({
      known: false,
      reason: "no-bus-current",
    });
  });

  it("is Peukert's time at the rated hours, times what age and cold leave", () => {
    // 40 Ah over 20 A in the one hour of the rating: 2^1.15 h; nine tenths of capacity in service; 15 K below 25 C at 0.8 %.
    const found = known({ capacityAh: 40, busCurrentA: { value: 20, u: 0.1 }, temperatureC: { value: 10, u: 0 } });
    expect(found.minutes).toBeCloseTo(60 * 2 ** 1.15 * 0.9 * 0.88, 9);
    const slow = known({
      capacityAh: 40,
      busCurrentA: { value: 20, u: 0.1 },
      temperatureC: { value: 25, u: 0 },
      ratedHours: 10,
      remainingShare: [0.5, 0.7],
    });
    expect(slow.minutes).toBeCloseTo(600 * (40 / 200) ** 1.15 * 0.6, 9);
    expect(found.temperatureAssumed).toBe(false);
    const { temperatureC: _, ...untold } = input;
    const assumed = endurance(untold, options());
    if (!assumed.known) throw new Error(assumed.reason);
    expect(assumed.temperatureAssumed).toBe(true);
    expect(assumed.minutes).toBeCloseTo(known({ temperatureC: { value: 20, u: 10 } }).minutes, 9);
  });

  it("never counts on less than a tenth in the deepest cold, nor on a gain", () => {
    const at = (value: number) => known({ temperatureC: { value, u: 0 } }).minutes;
    expect(at(-200) / at(25)).toBeCloseTo(0.1, 9);
    expect(at(25)).toBe(at(60));
  });

  it("its budget: capacity 3 %, current, and all derates together, by hand", () => {
    const found = known({ busCurrentA: { value: 30, u: 0.3 }, temperatureC: { value: 25, u: 0 } });
    const [capacity, current, derate] = found.rows;
    expect(capacity).toMatchObject({ source: "capacity", value: 44, unit: "Ah", u: expect.closeTo(1.32, 12) });
    expect(capacity!.sensitivity).toBeCloseTo((1.15 * found.minutes) / 44, 9);
    expect(current).toMatchObject({ source: "bus-current", value: 30, unit: "A", u: 0.3 });
    expect(current!.sensitivity).toBeCloseTo((-1.15 * found.minutes) / 30, 9);
    expect(derate).toMatchObject({ source: "derate", value: expect.closeTo(0.9, 12), unit: "1" });
    expect(derate!.sensitivity).toBeCloseTo(found.minutes / 0.9, 9);
    // 0.8 to 1 rectangular: 0.2 / sqrt 12; the exponent's 0.05 by its logarithm. The first is drawn: 1 % of slack.
    expect(derate!.u / Math.hypot(0.2 / Math.sqrt(12), 0.9 * Math.log(44 / 30) * 0.05)).toBeCloseTo(1, 2);
    // 95 % of 0.8 to 1, at 25 C.
    expect(found.derateLow).toBeCloseTo(0.805, 2);
    expect(found.derateHigh).toBeCloseTo(0.995, 2);
    const cold = known({ temperatureC: { value: 5, u: 0 } });
    // 20 K at 0.8 %.
    expect(cold.rows[2]!.value).toBeCloseTo(0.9 * 0.84, 12);
  });

  it("gives the first-order interval where the drawn one agrees, else the drawn one with its own spread", () => {
    // A narrow rectangle of capacity and a sure current: nearly normal by the capacity's 3 %.
    const sharp = known({
      busCurrentA: { value: 30, u: 0.01 },
      temperatureC: { value: 40, u: 0 },
      remainingShare: [0.9, 0.9],
    });
    expect(sharp.method).toBe("first-order");
    const u = sharp.minutes * Math.hypot(1.15 * 0.03, (1.15 * 0.01) / 30, Math.log(44 / 30) * 0.05);
    expect(sharp.uMin).toBeCloseTo(u, 9);
    expect(sharp.highMin - sharp.minutes).toBeCloseTo(1.96 * u, 3);
    expect(sharp.minutes - sharp.lowMin).toBeCloseTo(1.96 * u, 3);
    // Known to a fifth: t ~ I^-1.15 is skewed, its upper end farther off than its lower one.
    const blunt = known({ busCurrentA: { value: 30, u: 6 } });
    expect(blunt.highMin - blunt.minutes).toBeGreaterThan(1.5 * (blunt.minutes - blunt.lowMin));
    const byHand = (z: number) => (30 / (30 + 6 * z)) ** 1.15;
    expect(blunt.highMin / blunt.minutes).toBeGreaterThan(byHand(-1.96));
    expect(blunt.lowMin / blunt.minutes).toBeLessThan(byHand(1.96));
  });

  it("the required time is met from the low end on, and failed only above the high end", () => {
    const { lowMin, highMin } = known();
    expect(known({ requiredMin: lowMin }).meets).toBe(true);
    expect(known({ requiredMin: lowMin + 1e-6 }).meets).toBeNull();
    expect(known({ requiredMin: highMin }).meets).toBeNull();
    expect(known({ requiredMin: highMin + 1e-6 }).meets).toBe(false);
  });

  it("refuses a capacity of nothing, and a current within two uncertainties of nothing", () => {
    expect(endurance({ ...input, capacityAh: 0 }, options())).toEqual({ known: false, reason: "no-capacity" });
    // Peukert's law knows no unit: half an ampere-hour over half an ampere is one hour, less what is in service and the cold.
    const small = known({ capacityAh: 0.5, busCurrentA: { value: 0.5, u: 0.01 }, temperatureC: { value: 25, u: 0 } });
    expect(small.minutes).toBeCloseTo(60 * 0.9, 9);
    const at = (value: number) => endurance({ ...input, busCurrentA: { value, u: 2 } }, options()).known;
    expect(at(4)).toBe(false);
    expect(at(4.1)).toBe(true);
  });
});
