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

  /** So many readings at 24 V and the rest about so far below it, none like another. */
  const ending = (there: number, others: number, awayV = 0.01) =>
    Float64Array.from({ length: there + others }, (_, i) => (i < there ? 24 : 24 - awayV * (1 + i * 1e-6)));

  it("asks for ten readings and 3 % of them at the end", () => {
    expect(meterEndV(ending(10, 100), null)).toBe(24);
    expect(meterEndV(ending(9, 100), null)).toBeNull();
    expect(meterEndV(ending(30, 970), null)).toBe(24);
    expect(meterEndV(ending(29, 971), null)).toBeNull();
  });

  it("asks for other readings that come near it: two thousandths of the voltage, or two display steps", () => {
    // 48 mV.
    expect(meterEndV(ending(20, 60, 0.0475), null)).toBe(24);
    expect(meterEndV(ending(20, 60, 0.0485), null)).toBeNull();
    // Readings spread by several steps, the nearest within two of them.
    const coarse = (nearV: number) =>
      Float64Array.from({ length: 120 }, (_, i) => (i < 40 ? 24 : i === 60 ? 24 - nearV : 22 - ((i * 7) % 5)));
    expect(meterEndV(coarse(0.19), 0.1)).toBe(24);
    expect(meterEndV(coarse(0.21), 0.1)).toBeNull();
    expect(
      meterEndV(
        ending(20, 60).map((v) => -v),
        null,
      ),
    ).toBe(-24);
  });

  it("takes nearly all readings at one value for the end, whatever the display", () => {
    const still = (others: number) =>
      Float64Array.from({ length: 1000 }, (_, i) => (i < 500 || i >= 500 + others ? 24 : 23.99));
    expect(meterEndV(still(10), 0.01)).toBe(24);
    expect(meterEndV(still(11), 0.01)).toBeNull();
  });

  it("asks for noise of one and a half display steps elsewhere: in what stays away, or in what comes and goes", () => {
    // Away for long, up and down in turn by `swingV`: second differences of twice that.
    const away = (swingV: number, stepV: number) =>
      meterEndV(
        Float64Array.from({ length: 200 }, (_, i) => (i < 100 ? 24 : 23.98 - (i % 2 === 0 ? swingV : 0))),
        stepV,
      );
    // Mean |second difference| 2 swing, times 1.2533 over root six: 1.0233 swing.
    expect(away(0.0147, 0.01)).toBe(24);
    expect(away(0.0146, 0.01)).toBeNull();
    // One reading at a time away by `awayV`.
    const alone = (awayV: number) =>
      meterEndV(
        Float64Array.from({ length: 200 }, (_, i) => (i % 4 === 1 ? 24 - awayV : 24)),
        0.01,
      );
    expect(alone(0.0151)).toBe(24);
    expect(alone(0.0149)).toBeNull();
  });

  it("does not count what leaves the end for a moment where most stay away for longer", () => {
    const mixed = (pairs: number, endsV = 24, pairsV = 23.99) =>
      meterEndV(
        Float64Array.from({ length: 400 }, (_, i) => {
          if (i === 0 || i === 399) return endsV;
          if (i < 200) return i % 20 === 10 ? 23.98 : 24;
          const k = Math.floor((i - 200) / 10);
          return k < pairs && (i % 10 === 4 || i % 10 === 5) ? pairsV : 24;
        }),
        0.01,
      );
    // Ten lone readings 20 mV away; five pairs are as many readings, six are more.
    expect(mixed(5)).toBe(24);
    expect(mixed(6)).toBeNull();
    // Of the first and the last reading nobody knows whether they stay away: they count for neither.
    expect(mixed(5, 23.99)).toBe(24);
    // However far off they are.
    expect(mixed(6, 24, 23.97)).toBeNull();
  });

  it("takes the upper end before the lower one", () => {
    const both = Float64Array.from({ length: 300 }, (_, i) => [24, 23.99, 23.98][i % 3]!);
    expect(meterEndV(both, null)).toBe(24);
  });
});
