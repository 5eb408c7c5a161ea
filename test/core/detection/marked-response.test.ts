import { describe, expect, it } from "vitest";
import { startWork } from "../../../src/core/detection/load-work.js";
import { respond } from "../../../src/core/detection/marked-response.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { analyze } from "../../../src/core/index.js";
import { posteriorNodes } from "../../../src/core/noise/posterior-nodes.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { mixtureMoments } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

describe("a dip below one digit beside another load's dips of three", () => {
  it("is sized with those taken out", () => {
    for (let seed = 1; seed <= 2; seed++) {
      const random = randomGenerator(seed);
      const stepV = 0.1;
      const loads = [
        { id: "small", depthV: 0.08, onsetsS: [5.03, 23.03, 41.03] },
        { id: "large", depthV: 0.3, onsetsS: [14.03, 32.03, 50.03] },
      ];
      const timesS = Float64Array.from({ length: 600 }, (_, i) => i / 10);
      const voltagesV = timesS.map((t) => {
        const on = loads.filter(({ onsetsS }) => onsetsS.some((onsetS) => t >= onsetS && t < onsetS + 5));
        const dipV = on.reduce((sum, { depthV }) => sum + depthV, 0);
        return Math.round((24.03 - 0.002 * t - dipV + 0.03 * random.normal()) / stepV) * stepV;
      });
      const marks = loads.flatMap(({ id, onsetsS }) =>
        onsetsS.flatMap((timeS) => [
          { timeS, load: id, action: "on" as const },
          { timeS: timeS + 5, load: id, action: "off" as const },
        ]),
      );
      const profile = { loads: loads.map(({ id }) => ({ id, kind: "resistive" as const, reference: false })) };
      const found = analyze({ timesS, voltagesV }, { marks, markUncertaintyS: 0.1, profile, seed }).loads;
      // Noise and rounding of one reading 0.042 V, 150 readings within and 300 beside: 4.2 mV; the slope of the level and
      // the shape are open too, which three times it allow for.
      const leastUV = Math.sqrt((0.03 ** 2 + stepV ** 2 / 12) * (1 / 150 + 1 / 300));
      for (const [k, { depthV, id }] of loads.entries()) {
        const { value, u } = found[k]!.depth!;
        expect(Math.abs(value - depthV), `${id}, seed ${seed}`).toBeLessThan(4 * u);
        expect(u, `${id}, seed ${seed}`).toBeLessThan(3 * leastUV);
      }
    }
  });
});

/** One load on a display of `stepV`, judged with the shapes of its bank in the given order; `stepV` 0 rounds nothing. */
function responded(stepV: number, order: (bank: readonly number[]) => readonly number[]) {
  const random = randomGenerator(4);
  const onTimes = [5.03, 18.03, 31.03].map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
  const timesS = Float64Array.from({ length: 450 }, (_, i) => i / 10);
  const valuesV = timesS.map((t) => {
    const dipV = onTimes.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS) ? 0.08 : 0;
    const v = 24.03 - 0.002 * t - dipV + 0.03 * random.normal();
    return stepV > 0 ? Math.round(v / stepV) * stepV : v;
  });
  const series = {
    timesS,
    valuesV,
    readingCounts: new Float64Array(450).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.03,
    medianIntervalS: 0.1,
  };
  const display = stepV > 0 ? { stepV, ownNoiseV: 0.03 } : null;
  const context = { meter: undefined, display, random: randomGenerator(1) };
  const design = new ReadingsDesign(series);
  const told = startWork(series, { id: "a", onTimes, kind: null, timeUncertaintyS: 0.1 }, context);
  const places = order(told.bank.map((_, k) => k));
  const work = { ...told, bank: places.map((k) => told.bank[k]!), templates: places.map((k) => told.templates[k]!) };
  const readings = design.explained([work.template]);
  const prior = weakNoisePrior(design.scatterV, design.intervalS);
  const fit = fitNoise(readings, prior);
  const nodes = posteriorNodes(readings, prior, fit);
  return { response: respond(design, [work], work, fit, nodes, context), bank: work.bank };
}

describe("respond()", () => {
  it.each([0, 0.1])("does not hang on the order of the shapes that are tried (display of %d V)", (stepV) => {
    const { response: plain } = responded(stepV, (bank) => bank);
    expect(plain.roundingCounted).toBe(stepV > 0);
    for (const order of [
      (bank: readonly number[]) => [...bank].reverse(),
      (bank: readonly number[]) => bank.map((k) => (7 * k + 3) % bank.length),
    ]) {
      const { response: other, bank } = responded(stepV, order);
      expect(new Set(bank).size).toBe(bank.length);
      // The likeliest depth behind a display is looked for from a start that hangs on the order in the last digits.
      expect(other.score / plain.score).toBeCloseTo(1, 5);
      const [a, b] = [mixtureMoments(plain.depth), mixtureMoments(other.depth)];
      expect(b.mean / a.mean).toBeCloseTo(1, 5);
      expect(b.sd / a.sd).toBeCloseTo(1, 4);
      expect(other.voltsPerScore / plain.voltsPerScore).toBeCloseTo(1, 4);
      expect(other.expectedVoltsPerScore / plain.expectedVoltsPerScore).toBeCloseTo(1, 4);
      expect(other.scaleSd).toBeCloseTo(plain.scaleSd, 4);
    }
  });
});
