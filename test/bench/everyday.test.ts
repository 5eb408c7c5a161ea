import { describe, expect, it } from "vitest";
import { depthBoundV } from "./bounds.js";
import { everydayWays, type Knowledge } from "./everyday.js";
import { randomStream } from "./random.js";
import { simulateRecording, withDepth } from "./simulate.js";
import { controlledMean, quantile, tailQuantile } from "./statistics.js";

const WAYS_TOLD = (["marked", "cadence", "nothing"] as const).flatMap((knowledge) =>
  everydayWays(knowledge, false)
    .filter(({ settings }) => settings.includes("1000 s"))
    .map((way) => ({ knowledge, name: `${way.family}, ${way.settings}, told ${knowledge}`, way })),
);

describe("everydayWays()", () => {
  it.each(WAYS_TOLD)(
    "$name: speaks louder for a deep dip than for any of eight empty recordings",
    ({ knowledge, way }) => {
      const marks = marksFor(knowledge);
      const empty = Array.from({ length: 8 }, (_, seed) => simulateRecording("S-W", { seed, depthV: 0, marks }));
      const deep = withDepth(empty[3], 40 * depthBoundV(empty[3]));
      expect(way.statistic(deep)).toBeGreaterThan(Math.max(...empty.map(way.statistic)));
    },
  );

  it("least-squares segmentation marked looks near the marks only", () => {
    const recording = simulateRecording("S-W", { seed: 1, depthV: 0, marks: "exact" });
    const dipped = withDepth(recording, 0.5);
    const way = everydayWays("marked", false).find(({ family }) => family === "least-squares segmentation");
    const far = { ...dipped, marks: dipped.marks.map((mark) => ({ ...mark, timeS: -100 })) };
    expect(way?.statistic(far)).toBe(0);
    expect(way?.statistic(dipped)).toBeGreaterThan(10);
  });
});

describe("statistics", () => {
  it("quantile() interpolates between order statistics as R's type 7 does", () => {
    // R 4.2: quantile(c(1, 2, 4, 8), 0.3) gives 1.9 (type 7, by hand: place 0.9 between 1 and 2).
    expect(quantile([8, 1, 4, 2], 0.3)).toBeCloseTo(1.9, 12);
  });

  it("controlledMean() removes what the controls explain", () => {
    const { normal } = randomStream(4, "test");
    const luck = Array.from({ length: 40 }, normal);
    const values = luck.map((z) => 7 + 3 * z + 0.5 * (z * z - 1));
    const mean = controlledMean(
      values,
      luck,
      luck.map((z) => z * z - 1),
    );
    expect(mean).toBeCloseTo(7, 9);
  });

  it("tailQuantile() continues an exponential tail", () => {
    const draws = Array.from({ length: 5000 }, (_, k) => -Math.log(1 - (k + 0.5) / 5000));
    expect(Math.abs(tailQuantile(draws, 0.001) / -Math.log(0.001) - 1)).toBeLessThan(0.01);
  });
});

function marksFor(knowledge: Knowledge): "exact" | "none" {
  return knowledge === "marked" ? "exact" : "none";
}
