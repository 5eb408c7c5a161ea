import { describe, expect, it } from "vitest";
import { measuredChange } from "../../../src/core/estimation/measured-current.js";

const timesS = Float64Array.from({ length: 1200 }, (_, i) => i / 20);
const onTimes = [
  { onsetS: 10, releaseS: 20 },
  { onsetS: 40, releaseS: 50 },
];
const series = (amperes: (t: number) => number) => ({ timesS, currentsA: timesS.map(amperes) });
const isOn = (t: number) => onTimes.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
/** A regular unrest that neither drifts nor correlates with the on-times. */
const unrest = (t: number) => 0.01 * ((Math.round(t * 20) * 7) % 5) - 0.02;

describe("measuredChange()", () => {
  it("is the mean change while on; an offset of the clamp cancels, and the sign is told apart", () => {
    const found = measuredChange(
      series((t) => -3 + (isOn(t) ? 6 : 0) + unrest(t)),
      onTimes,
      "constant-current",
    )!;
    expect(found.value).toBeCloseTo(6, 2);
    expect(found.sign).toBe(1);
    const turned = measuredChange(
      series((t) => 3 - (isOn(t) ? 6 : 0) + unrest(t)),
      onTimes,
      "constant-current",
    )!;
    expect(turned.value).toBeCloseTo(6, 2);
    expect(turned.sign).toBe(-1);
    // The gain of the clamp alone is 1 %.
    expect(found.u).toBeGreaterThan(0.06);
    expect(found.u).toBeLessThan(0.07);
  });

  it("takes the on-time from four to nine tenths of it, against as long on either side less a tenth", () => {
    const with1 = (fromS: number, toS: number) =>
      measuredChange(
        series((t) => (isOn(t) ? 6 : 0) + unrest(t) + (t >= fromS && t < toS ? 50 : 0)),
        [onTimes[0]!],
        "constant-current",
      )!.value;
    for (const [fromS, toS] of [
      [19, 21],
      [9, 10],
    ] as const)
      expect(with1(fromS, toS), `${fromS}`).toBeCloseTo(6, 1);
    for (const [fromS, toS] of [
      [14.05, 14.5],
      [18.5, 18.95],
      [8.5, 8.95],
      [21.05, 21.5],
      [0.05, 0.5],
      [29.5, 29.95],
    ] as const)
      expect(Math.abs(with1(fromS, toS) - 6), `${fromS}`).toBeGreaterThan(0.5);
  });

  it("keeps clear of the neighbouring on-times", () => {
    const near = [
      { onsetS: 10, releaseS: 20 },
      { onsetS: 24, releaseS: 34 },
    ];
    const on = (t: number) => near.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
    expect(
      measuredChange(
        series((t) => (on(t) ? 6 : 0) + unrest(t)),
        near,
        "constant-current",
      )!.value,
    ).toBeCloseTo(6, 1);
  });

  it("counts switchings that differ: their scatter over root n", () => {
    const found = measuredChange(
      series((t) => (isOn(t) ? (t < 30 ? 5 : 7) : 0) + unrest(t)),
      onTimes,
      "constant-current",
    )!;
    expect(found.value).toBeCloseTo(6, 2);
    // Half the difference is 1: sqrt(2 / 1 / 2).
    expect(found.u).toBeCloseTo(Math.hypot(1, 0.06), 2);
    const three = [5, 25, 45].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
    const amperes = (t: number) =>
      [4, 6, 8][three.findIndex(({ onsetS, releaseS }) => t >= onsetS && t < releaseS)] ?? 0;
    // 4, 6 and 8: standard deviation 2, of the mean of three 2 / sqrt(3).
    expect(
      measuredChange(
        series((t) => amperes(t) + unrest(t)),
        three,
        "constant-current",
      )!.u,
    ).toBeCloseTo(Math.hypot(2 / Math.sqrt(3), 0.06), 2);
  });

  it("is as sure of nothing as two means are: sigma times the root of 1 / on + 1 / off", () => {
    // Readings in turn 0, 0.2, 0: differences 0, 0.2, -0.2 with a median deviation of 0.2.
    const current = series((t) => [0, 0.2, 0.2, 0][Math.round(t * 20) % 4]!);
    const sigmaA = (1.4826022185056018 * 0.2) / Math.SQRT2;
    // 1 s on is 10 readings between its four and nine tenths, and 18 on either side.
    const found = measuredChange(current, [{ onsetS: 10, releaseS: 11 }], "constant-current")!;
    // Both have as many readings of either kind: no change, of which the clamp's gain makes nothing.
    expect(found.value).toBeCloseTo(0, 12);
    expect(found.u).toBeCloseTo(sigmaA * Math.sqrt(1 / 10 + 1 / 36), 9);
  });

  it("is nothing with fewer than two readings within or beside", () => {
    const few = { timesS: Float64Array.of(5, 8, 15, 25), currentsA: Float64Array.of(1, 1, 7, 1) };
    expect(measuredChange(few, [onTimes[0]!], "constant-current")).toBeNull();
    const enough = { timesS: Float64Array.of(5, 15, 17, 25), currentsA: Float64Array.of(1, 7, 7, 1) };
    expect(measuredChange(enough, [onTimes[0]!], "constant-current")!.value).toBeCloseTo(6, 9);
    const beside = { timesS: Float64Array.of(5, 15, 17, 35), currentsA: Float64Array.of(1, 7, 7, 1) };
    expect(measuredChange(beside, [onTimes[0]!], "constant-current")).toBeNull();
    expect(
      measuredChange(
        series(() => 1),
        [],
        "constant-current",
      ),
    ).toBeNull();
  });
});

describe("measuredChange() of a heater", () => {
  it("is the settled current", () => {
    const heater = series((t) => (isOn(t) ? 6 + 3 * Math.exp(-(t < 30 ? t - 10 : t - 40) / 4) : 0) + unrest(t));
    expect(measuredChange(heater, onTimes, "heater")!.value).toBeCloseTo(6, 1);
  });
});
