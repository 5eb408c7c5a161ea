import { describe, expect, it } from "vitest";
import { meterEndV } from "../../../src/core/series/meter-end.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** A minute at 10 Hz: a level that rises by 0.2 V to a plateau, with noise, three dips of 0.3 V, rounded to `stepV`. */
function recorded(sigmaV: number, stepV: number, seed = 1): Float64Array {
  const random = randomGenerator(seed);
  return Float64Array.from({ length: 600 }, (_, i) => {
    const t = i / 10;
    const v = 24.203 - 0.2 * Math.exp(-t / 8) - (t % 20 > 12 ? 0.3 : 0) + sigmaV * random.normal();
    return stepV > 0 ? Math.round(v / stepV) * stepV : v;
  });
}

describe("meterEndV()", () => {
  it.each([0.02, 0.05])("finds the end that cuts readings with %d V of noise off, above and below", (sigmaV) => {
    const voltagesV = recorded(sigmaV, 0);
    expect(
      meterEndV(
        voltagesV.map((v) => Math.min(v, 24.19)),
        null,
      ),
    ).toBe(24.19);
    expect(
      meterEndV(
        voltagesV.map((v) => Math.max(v, 23.92)),
        null,
      ),
    ).toBe(23.92);
    const stepV = 0.007;
    const converted = recorded(sigmaV, stepV).map((v) => Math.min(v, 3456 * stepV));
    expect(meterEndV(converted, stepV)).toBe(3456 * stepV);
  });

  it("finds it where the noise hardly ever comes back from it", () => {
    const voltagesV = new Float64Array(600).fill(24.1);
    voltagesV[200] = 24.0993;
    voltagesV[411] = 24.0986;
    expect(meterEndV(voltagesV, 0.0007)).toBe(24.1);
  });

  it.each([
    [0, 0.1],
    [0.004, 0.1],
    [0.03, 0.1],
    [0.002, 0.01],
    [0.05, 0.5],
    [0.02, 0.007],
    [0.02, 0],
  ])("takes no display for one: %d V of noise on steps of %d V", (sigmaV, stepV) => {
    for (let seed = 1; seed <= 20; seed++) {
      expect(meterEndV(recorded(sigmaV, stepV, seed), stepV === 0 ? null : stepV), `seed ${seed}`).toBeNull();
    }
  });

  it("takes neither dropouts written as 0 V for one, nor readings that never change", () => {
    const withDropouts = recorded(0.02, 0).map((v, i) => (i % 20 === 0 ? 0 : v));
    expect(meterEndV(withDropouts, null)).toBeNull();
    expect(meterEndV(new Float64Array(100).fill(24), null)).toBeNull();
  });
});
