import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { levelMoves } from "../../../src/core/detection/level-moves.js";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import { detectMarked } from "../../../src/core/detection/marked-detection.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { dipTemplate, plainShape } from "../../../src/core/detection/switching-template.js";
import { workingSeries } from "../../../src/core/series/working-series.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";

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

describe("levelMoves() by dense least squares", () => {
  const random = randomSource(9);
  const timesS = Float64Array.from({ length: 80 }, (_, i) => 7 + i + 0.3 * Math.sin(i));
  const noise = { whiteV: 0.004, colouredV: 0.003, colouredTimeS: 2, walkVPerSqrtS: 0.01, bendVPerS15: 0.001 };
  const templates = [25, 50].map((onsetS) =>
    dipTemplate(timesS, 0, [{ onsetS, releaseS: onsetS + 8 }], plainShape(0.4)),
  );
  const dipsV = (i: number) => 0.2 * templates[0]![i]! + 0.1 * templates[1]![i]!;
  const unrestV = timesS.map(() => 0.005 * random.normal());
  const spanS = timesS[79]! - timesS[0]!;
  const straight = timesS.map((t) => (2 * (t - timesS[0]!)) / spanS - 1);
  const bent = straight.map((x) => (3 * x * x - 1) / 2);

  it("is so from four standard uncertainties of a straight and a bent course on, wander apart and dips taken out", () => {
    const seen = { still: 0, moves: 0 };
    for (const slopeV of [0, 0.002, 0.004, 0.006, 0.01]) {
      for (const bendV of [0, 0.003, -0.005, 0.01]) {
        const valuesV = timesS.map((_, i) => 24 + unrestV[i]! + slopeV * straight[i]! + bendV * bent[i]! + dipsV(i));
        const readingCounts = new Float64Array(80).fill(1);
        const series = { timesS, valuesV, readingCounts, blockS: 0, outlierCount: 0 };
        const design = new ReadingsDesign({ ...series, readingScatterV: 0.005, medianIntervalS: 1 });
        const responses = templates.map((template) => ({ template }));
        const told = levelMoves({ design, fit: { noise }, responses } as unknown as MarkedDetection);
        // Each course by itself beside level and dips, in the noise without anything slow.
        const still = denseCovariance(timesS, readingCounts, { ...noise, walkVPerSqrtS: 0, bendVPerS15: 0 });
        const scores = [straight, bent].map((course) => {
          const columns = [timesS.map(() => 1), ...templates, course].map((column) => Array.from(column));
          const fit = generalizedLeastSquares(
            still,
            columns,
            valuesV.map((v) => v - 24),
          );
          return fit.estimates[3]! / Math.sqrt(fit.estimateCovariance[3]![3]!);
        });
        const size = Math.hypot(scores[0]!, scores[1]!);
        if (Math.abs(size - 4) > 0.02) expect(told, `${slopeV} V, ${bendV} V: ${size}`).toBe(size > 4);
        seen[size > 4 ? "moves" : "still"] += 1;
      }
    }
    expect(Math.min(seen.still, seen.moves)).toBeGreaterThan(3);
  });
});
