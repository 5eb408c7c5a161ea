import { describe, expect, it } from "vitest";
import { searchTrains } from "../../../src/core/detection/search.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { fallOf, noiseKinds, noisySeries } from "./noise-kinds.js";

/** 50 s of readings at 5 Hz with a break of `gapS` in the middle. */
function broken(seed: number, gapS: number, kind = noiseKinds[3]!, fallV?: (t: number) => number) {
  const series = noisySeries(kind, { seed, rateHz: 5, durationS: 50, ...(fallV === undefined ? {} : { fallV }) });
  return { ...series, timesS: series.timesS.map((t) => (t < 25 ? t : t + gapS)) };
}
const searched = (series: ReturnType<typeof broken>) =>
  searchTrains(series, {
    falseAlarmRate: 0.01,
    power: 0.95,
    lagS: undefined,
    displayStepV: null,
    cadence: null,
    random: randomGenerator(1),
  });

describe("searchTrains() of a recording with a break in the middle", () => {
  it.each([10, 25, 60, 300])("of %d s finds no dips in noise, least of all where nothing was read", (gapS) => {
    for (let seed = 1; seed <= 4; seed++) {
      const { trains, best } = searched(broken(seed, gapS));
      // By chance 1 of 10,000 each.
      expect((trains[0] ?? best)!.pValue, `seed ${seed}`).toBeGreaterThan(1e-4);
    }
  });

  it("finds the dips on both sides of it, or says that it would not", () => {
    const fallV = fallOf([
      [5, 9],
      [13, 17],
      [30, 34],
      [38, 42],
    ]);
    for (const gapS of [4, 60]) {
      const found = searched(broken(1, gapS, noiseKinds[0]!, (t) => 0.3 * fallV(t)));
      const onsetsS = found.trains.flatMap(({ onTimes }) => onTimes.map(({ onsetS }) => onsetS)).sort((a, b) => a - b);
      const wholeS = [5, 13, 30 + gapS, 38 + gapS];
      const nearest = onsetsS.map((onsetS) => Math.min(...wholeS.map((one) => Math.abs(one - onsetS))));
      expect(Math.max(...nearest), `${gapS} s`).toBeLessThan(0.3);
      // The limit is that of three switchings; two show less by the root of 2/3.
      if (gapS === 4 || found.minimumDetectableDepthV < 0.3 * Math.sqrt(2 / 3)) expect(onsetsS).toHaveLength(4);
    }
  });
});
