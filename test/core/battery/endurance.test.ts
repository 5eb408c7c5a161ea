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
});
