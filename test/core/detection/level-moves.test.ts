import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { levelMoves } from "../../../src/core/detection/level-moves.js";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import { workingSeries } from "../../../src/core/series/working-series.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const onTimes = [20, 30, 40].map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));

/** Whether a minute at 10 Hz of the level with 5 mV of white noise and a silent load is told to move. */
function moves(seed: number, levelV: (timeS: number) => number, startS = 0): boolean {
  const random = randomSource(seed);
  const timesS = Float64Array.from({ length: 600 }, (_, i) => i / 10);
  const valuesV = timesS.map((t) => levelV(t) + 0.005 * random.normal());
  const series = workingSeries(
    timesS.map((t) => t + startS),
    valuesV,
    { start: 0, end: 600 },
    0,
    null,
  );
  const placed = onTimes.map(({ onsetS, releaseS }) => ({ onsetS: onsetS + startS, releaseS: releaseS + startS }));
  const load = { id: "probe", onTimes: placed, kind: "resistive", timeUncertaintyS: 0.1 } as const;
  return levelMoves(detectMarked(series, [load], { meter: undefined, random: randomGenerator(seed) }));
}

describe("levelMoves()", () => {
  it("is false where a supply holds the level", () => {
    // Four standard uncertainties of two quantities are passed by chance once in 3000.
    for (let seed = 1; seed <= 24; seed++)
      expect(
        moves(seed, () => 25.2),
        `seed ${seed}`,
      ).toBe(false);
  });

  it.each([
    // 10 A out of 24 Ah empty a battery by 0.7 % a minute; two volts from full to empty make 14 mV of that.
    ["discharges by 14 mV a minute", (t: number) => 24.6 - (0.014 * t) / 60],
    ["recovers by 0.1 V within half a minute", (t: number) => 24.6 - 0.1 * Math.exp(-t / 10)],
    ["still recovers by 10 mV and then falls by as much", (t: number) => 24.6 - 0.01 * ((t - 30) / 30) ** 2],
  ])("is true where a battery %s", (_name, levelV) => {
    for (let seed = 1; seed <= 6; seed++) {
      expect(moves(seed, levelV)).toBe(true);
      // Nor does it matter when: seconds since 1970.
      expect(moves(seed, levelV, 1.7e9), `seed ${seed}, 2023`).toBe(true);
    }
  });
});
