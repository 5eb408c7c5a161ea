import { describe, expect, it } from "vitest";
import type { DetectedWindow } from "../../../src/core/detection/detect-in-windows.js";
import { markClock } from "../../../src/core/detection/mark-clock.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { type SearchOptions, searchTrains } from "../../../src/core/detection/search.js";
import { degreesOfFreedom, isShort, partOf } from "../../../src/core/detection/search-noise.js";
import { unmarkedDips, warningsOf } from "../../../src/core/detection/unmarked-dips.js";
import { normalQuantile } from "../../../src/core/statistics/distribution.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const options = (changed: Partial<SearchOptions> = {}): SearchOptions => ({
  falseAlarmRate: 0.01,
  power: 0.9,
  lagS: 0.3,
  displayStepV: null,
  cadence: null,
  random: randomGenerator(1),
  ...changed,
});
/** White noise of 20 mV, 2.5 readings a second, with dips of the told depth 5 s long from these times on. */
function seriesOf(onsets: readonly number[], depthV: number, { endS = 80, seed = 2 } = {}) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: Math.round(endS * 2.5) }, (_, i) => i / 2.5);
  const isOn = (t: number) => onsets.some((onsetS) => t > onsetS && t <= onsetS + 5);
  return {
    timesS,
    valuesV: timesS.map((t) => 24 - (isOn(t) ? depthV : 0) + 0.02 * random.normal()),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.02,
    medianIntervalS: 0.4,
  };
}

describe("searchTrains()", () => {
  const onsets = [30, 40, 50];
  const found = searchTrains(seriesOf(onsets, 0.3), options());

  it("finds a train of clear dips, its depth and times, and then has no best that is noise", () => {
    expect(found.trains).toHaveLength(1);
    const [train] = found.trains;
    expect(train!.onTimes).toHaveLength(3);
    train!.onTimes.forEach(({ onsetS, releaseS }, k) => {
      expect(Math.abs(onsetS - onsets[k]!)).toBeLessThan(0.6);
      expect(Math.abs(releaseS - onsets[k]! - 5)).toBeLessThan(0.6);
    });
    expect(Math.abs(train!.depthV - 0.3)).toBeLessThan(0.06);
    expect(train!.pValue).toBeLessThan(1e-4);
    expect(train!.score).toBeGreaterThan(8);
    expect(found.best).toBeNull();
  });

  it("tells what could be found at the noise's worst, whatever size its factors are told in", () => {
    const plain = seriesOf([], 0);
    const swells = (t: number) => (t < 25 ? 1.6 : t < 55 ? 1 : 2);
    const limit = (unit: number) => {
      const noiseFactors = plain.timesS.map((t) => unit * swells(t));
      const valuesV = plain.valuesV.map((v, i) => 24 + (v - 24) * swells(plain.timesS[i]!));
      return searchTrains({ ...plain, valuesV, noiseFactors }, options()).minimumDetectableDepthV;
    };
    const steady = searchTrains(plain, options()).minimumDetectableDepthV;
    // Twice as large at the end as in the middle.
    expect(limit(1) / steady).toBeGreaterThan(1.6);
    expect(limit(1) / steady).toBeLessThan(3);
    // Noise half as large in twice the unit is the same noise.
    expect(limit(0.5) / limit(1)).toBeCloseTo(1, 1);
  });

  it("of noise alone has no train, and tells the best that it met", () => {
    const none = searchTrains(seriesOf([], 0), options());
    expect(none.trains).toEqual([]);
    expect(none.best!.pValue).toBeGreaterThan(0.01);
    expect(none.best!.depthV).toBeGreaterThan(0);
  });

  it("its limits lie apart by normal quantiles of their powers", () => {
    for (const { criticalDepthV, minimumDetectableDepthV, surelyDetectableDepthV } of [
      found,
      searchTrains(seriesOf([], 0), options()),
    ]) {
      const uV = (minimumDetectableDepthV - criticalDepthV) / normalQuantile(0.9);
      expect(uV).toBeGreaterThan(0.001);
      expect((surelyDetectableDepthV - criticalDepthV) / uV).toBeCloseTo(normalQuantile(0.99), 9);
      // The best of thousands of trains: between 3.5 and 8 standard uncertainties at 1 %, the noise being known from 200 readings.
      expect(criticalDepthV / uV).toBeGreaterThan(3.5);
      expect(criticalDepthV / uV).toBeLessThan(8);
    }
  });

  it("says which switchings its limits are of: those of a stated cadence, or as many of five seconds as fit", () => {
    const of = (endS: number, cadence: SearchOptions["cadence"]) =>
      searchTrains(seriesOf([], 0, { endS }), options({ cadence })).limitsOf;
    expect(of(80, null)).toEqual({ switchingCount: 3, onS: 5, offS: 5 });
    const stated = { onS: 8, offS: 4, switchingCount: 4 };
    expect(of(80, stated)).toEqual(stated);
    expect(of(20, null)!.switchingCount).toBeLessThan(3);
  });

  it("finds the switchings that its limit is told of with the stated power, and seldom those half as deep", () => {
    const count = 30;
    const seeds = Array.from({ length: count }, (_, k) => 100 + k);
    const limitsV = seeds.map((seed) => searchTrains(seriesOf([], 0, { seed }), options()).minimumDetectableDepthV);
    const foundAt = (share: number) =>
      seeds.filter(
        (seed, k) => searchTrains(seriesOf(onsets, share * limitsV[k]!, { seed }), options()).trains.length > 0,
      ).length;
    // Power 0.9: of 30 fewer than 20 in 1 of 10,000 such runs.
    expect(foundAt(1)).toBeGreaterThanOrEqual(20);
    // A limit of 1 % and 90 % lies at least 4.5 standard uncertainties up: half of it is found in one of five at the most, more
    // than 14 of 30 in 1 of 4,000 runs.
    expect(foundAt(0.5)).toBeLessThanOrEqual(14);
  });

  it("asks for more standard uncertainties where the noise is told by few readings, though there are fewer trains", () => {
    const ask = (endS: number) => {
      const rare = { falseAlarmRate: 1e-5, cadence: { onS: 5, offS: 5, switchingCount: 3 } };
      const { criticalDepthV, minimumDetectableDepthV } = searchTrains(seriesOf([], 0, { endS }), options(rare));
      return (criticalDepthV * normalQuantile(0.9)) / (minimumDetectableDepthV - criticalDepthV);
    };
    // In one piece up to 160 s. Ten times the length has more trains, whose normal tails alone would ask for more.
    expect(ask(60)).toBeGreaterThan(1.02 * ask(600));
  });

  it("a stated cadence finds fainter dips than none, for there are fewer trains to try", () => {
    const series = seriesOf([], 0);
    const cadence = { onS: 5, offS: 5, switchingCount: 3 };
    const stated = searchTrains(series, options({ cadence }));
    const open = searchTrains(series, options());
    expect(stated.criticalDepthV).toBeLessThan(open.criticalDepthV);
    expect(stated.best!.onTimes).toHaveLength(3);
  });

  it("a coarse display makes every limit larger: half a step may be all that shows", () => {
    const series = seriesOf([], 0);
    const plain = searchTrains(series, options());
    const growth = (displayStepV: number) =>
      searchTrains(series, options({ displayStepV })).criticalDepthV / plain.criticalDepthV;
    // Half a step over the noise of some 20 mV, or over that of a step, which is a step over root twelve.
    const sigmaV = Math.hypot(plain.noise.whiteV, plain.noise.colouredV);
    expect(Math.abs(sigmaV / 0.02 - 1)).toBeLessThan(0.2);
    expect(growth(0.1)).toBeCloseTo(Math.sqrt(3), 9);
    expect(growth(0.06)).toBeCloseTo(0.03 / sigmaV, 9);
    expect(searchTrains(series, options({ displayStepV: 0.01 })).criticalDepthV).toBeCloseTo(plain.criticalDepthV, 2);
  });

  it("does not look again at dips that are known", () => {
    const series = seriesOf(onsets, 0.3);
    const template = series.timesS.map((t) => (onsets.some((onsetS) => t > onsetS && t <= onsetS + 5) ? -1 : 0));
    const onTimes = onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
    const again = searchTrains(series, options(), { templates: [template], onTimes });
    expect(again.trains).toEqual([]);
    for (const { onsetS, releaseS } of again.best!.onTimes)
      expect(onTimes.some((one) => Math.abs(one.onsetS - onsetS) < 1 && Math.abs(one.releaseS - releaseS) < 1)).toBe(
        false,
      );
  });
});

describe("search noise", () => {
  it("partOf() is a stretch of the series, its factors with it", () => {
    const series = { ...seriesOf([], 0), noiseFactors: Float64Array.from({ length: 200 }, (_, i) => i) };
    const part = partOf(series, 10, 30);
    expect(part.timesS).toEqual(series.timesS.slice(10, 30));
    expect(part.valuesV).toEqual(series.valuesV.slice(10, 30));
    expect(part.readingCounts).toHaveLength(20);
    expect(Array.from(part.noiseFactors!.slice(0, 2))).toEqual([10, 11]);
    expect(partOf(seriesOf([], 0), 0, 5).noiseFactors).toBeNull();
  });

  it("isShort() up to 160 s", () => {
    const design = (endS: number) => new ReadingsDesign(seriesOf([], 0, { endS }));
    expect(isShort(design(160.4))).toBe(true);
    expect(isShort(design(161))).toBe(false);
  });

  it("degreesOfFreedom() grow with the recording, and are four at least", () => {
    const of = (endS: number) => degreesOfFreedom(new ReadingsDesign(seriesOf([], 0, { endS })), []);
    expect(of(40)).toBeGreaterThanOrEqual(4);
    expect(of(150)).toBeGreaterThan(of(40));
    expect(of(150)).toBeLessThan(2000);
  });
});

describe("unmarkedDips()", () => {
  const series = seriesOf([30, 40, 50], 0.3);
  const recording = { timesS: series.timesS, voltagesV: series.valuesV };
  const windows = [
    { detection: { responses: [{ id: "a", refined: null }], design: { series } } },
  ] as unknown as DetectedWindow[];
  const { cadence: _, ...rest } = options();

  it("finds dips that no mark accounts for where a marked load was silent, and warns of the first of each train", () => {
    const found = unmarkedDips(recording, windows, { isOpen: () => true, responded: () => false }, rest);
    expect(found.trains).toHaveLength(1);
    expect(found.deepestV).toBe(found.trains[0]!.depthV);
    const [warning] = warningsOf(found);
    expect(warning).toEqual({ code: "dip-without-mark", onsetS: found.trains[0]!.onTimes[0]!.onsetS });
  });

  it("does not look where every load responded, or none was judged", () => {
    expect(unmarkedDips(recording, windows, { isOpen: () => false, responded: () => false }, rest)).toEqual({
      trains: [],
      deepestV: 0,
    });
    expect(unmarkedDips(recording, [], { isOpen: () => true, responded: () => false }, rest)).toEqual({
      trains: [],
      deepestV: 0,
    });
    expect(warningsOf({ trains: [], deepestV: 0 })).toEqual([]);
  });

  it("takes the dips of the loads that responded for theirs", () => {
    const shape = { shiftS: 0, lagS: 0.02, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
    const onTimes = [30, 40, 50].map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
    const known = [
      {
        detection: {
          responses: [
            { id: "a", onTimes, refined: { shape, onTimes } },
            { id: "b", onTimes: [], refined: null },
          ],
          design: { series },
        },
      },
    ] as unknown as DetectedWindow[];
    expect(
      unmarkedDips(recording, known, { isOpen: (id) => id === "b", responded: (id) => id === "a" }, rest).trains,
    ).toEqual([]);
  });
});

describe("markClock()", () => {
  it("says that readings are too slow or too few", () => {
    const marks = [
      { timeS: 0, load: "a", action: "on" as const },
      { timeS: 5, load: "a", action: "off" as const },
    ];
    const log = (count: number, intervalS: number) => {
      const timesS = Float64Array.from({ length: count }, (_, i) => i * intervalS);
      return { timesS, voltagesV: timesS.map((_, i) => 24 + 0.01 * ((i * 7) % 5)) };
    };
    expect(markClock(log(39, 1), marks, null)).toEqual({ known: false, why: "too-slow" });
    expect(markClock(log(60, 1.1), marks, null)).toEqual({ known: false, why: "too-slow" });
    expect(markClock(log(40, 1), marks, null)).toEqual({ known: false, why: "nothing-answers" });
  });

  it("finds the one setting at which the marks meet the dips", () => {
    const { timesS, valuesV } = seriesOf([30, 43, 52], 0.3);
    const marks = [5, 18, 27].flatMap((onS) => [
      { timeS: onS, load: "a", action: "on" as const },
      { timeS: onS + 5, load: "a", action: "off" as const },
    ]);
    const found = markClock({ timesS, voltagesV: valuesV }, marks, { meter: { lagS: 0.05 }, loads: [] });
    expect(found).toMatchObject({ known: true });
    expect(found.known && Math.abs(found.laterS - 25)).toBeLessThan(0.4);
  });
});
