import { describe, expect, it } from "vitest";
import { searchTrains } from "../../../src/core/detection/search.js";
import { mayBeWander } from "../../../src/core/detection/wander-story.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { fallOf, noisySeries } from "./noise-kinds.js";

const options = { falseAlarmRate: 0.01, power: 0.95, lagS: 0.3, displayStepV: null, cadence: null };

/** White noise of 20 mV in 300 s at 5 Hz; for a minute the level walks by 10 mV in a second, where it is asked to. */
function series(seed: number, walksFromS: number, dips = (_timeS: number) => 0) {
  const random = randomGenerator(3000 + seed);
  let levelV = 0;
  const levelsV = Array.from({ length: 1500 }, (_, i) => {
    const walks = i / 5 > walksFromS && i / 5 < walksFromS + 60;
    levelV += walks ? 0.01 * Math.sqrt(0.2) * random.normal() : 0;
    return levelV;
  });
  const fallV = (t: number) => levelsV[Math.round(5 * t)]! + dips(t);
  return noisySeries(
    { name: "white", whiteV: 0.02, colouredV: 0, walkVPerSqrtS: 0 },
    { seed, rateHz: 5, durationS: 300, fallV },
  );
}

const seeds = Array.from({ length: 12 }, (_, k) => 1 + k);
const beats = [200, 216, 232].map((onsetS) => [onsetS, onsetS + 8] as const);

/** For each train that a search finds: whether it may be wander. */
function judged(
  one: ReturnType<typeof series>,
  seed: number,
): { readonly onsetS: number; readonly doubted: boolean }[] {
  const { trains, noise } = searchTrains(one, { ...options, random: randomGenerator(seed) });
  return trains.map((train) => {
    const others = trains.filter((other) => other !== train).flatMap(({ columns }) => columns);
    return { onsetS: train.onTimes[0]!.onsetS, doubted: mayBeWander(one, noise, train, others) };
  });
}

describe("mayBeWander()", () => {
  it("doubts the trains that a search makes of a level that wanders for a minute of five", () => {
    const found = seeds.flatMap((seed) => judged(series(seed, 120), seed));
    // So many are found at all, and no rate is promised.
    expect(found.length).toBeGreaterThan(5);
    expect(found.filter(({ doubted }) => !doubted).length).toBeLessThanOrEqual(Math.ceil(found.length / 4));
  });

  it("does not doubt dips of three times the noise, in calm or beside a level that wanders elsewhere", () => {
    for (const seed of seeds.slice(0, 4)) {
      for (const walksFromS of [400, 60]) {
        const all = judged(
          series(seed, walksFromS, (t) => 0.06 * fallOf(beats)(t)),
          seed,
        );
        const own = all.filter(({ onsetS }) => Math.abs(onsetS - 200) < 2);
        expect(own, `seed ${seed}`).toMatchObject([{ doubted: false }]);
      }
    }
  });

  it("takes the dips of another load for no wander", () => {
    const strong = [209.5, 225.5, 241.5].map((onsetS) => [onsetS, onsetS + 4] as const);
    for (const seed of seeds.slice(0, 3)) {
      const all = judged(
        series(seed, 400, (t) => 0.08 * fallOf(beats)(t) + 0.3 * fallOf(strong)(t)),
        seed,
      );
      expect(all.length, `seed ${seed}`).toBeGreaterThan(1);
      for (const { doubted } of all) expect(doubted, `seed ${seed}`).toBe(false);
    }
  });
});
