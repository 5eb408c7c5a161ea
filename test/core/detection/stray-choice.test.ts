import { describe, expect, it } from "vitest";
import type { MarkedLoad } from "../../../src/core/detection/load-work.js";
import { detectMarked, type MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import type { RefinedDepth } from "../../../src/core/detection/shape-refinement.js";
import { strayReleases } from "../../../src/core/detection/stray-release.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { denseCovariance, inner, invert, type Matrix, times } from "../../oracles/dense-noise.js";
import { strayStories } from "../../oracles/stray-stories.js";

const timesS = Float64Array.from({ length: 260 }, (_, i) => i * 0.4);
const endS = timesS.at(-1)!;
const shape = { shiftS: 0.1, lagS: 0.3, inrush: 0.2, settleS: 3, polarization: 0.1, polarizationS: 20 };
const marked: readonly OnTime[] = [
  { onsetS: 30, releaseS: 38 },
  { onsetS: 45, releaseS: 53 },
  { onsetS: 60, releaseS: 68.5 },
];
const heat: MarkedLoad = { id: "heat", onTimes: marked, kind: "resistive", timeUncertaintyS: 0.1 };
/** Six standard uncertainties of the hand, and at least 1.5 s. */
const GUARD_S = 1.5;

function seriesOf(real: readonly OnTime[], noiseV = 0.02) {
  const random = randomGenerator(4);
  const dip = dipTemplate(timesS, 0, real, shape);
  return {
    timesS,
    valuesV: timesS.map((_, i) => 24 + 0.3 * dip[i]! + noiseV * random.normal()),
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: noiseV,
    medianIntervalS: 0.4,
  };
}

const judgeOf = (real: readonly OnTime[]) => (loads: readonly MarkedLoad[]) =>
  detectMarked(seriesOf(real), loads, { meter: { lagS: 0.3 }, random: randomGenerator(5) });
const deep = { means: Float64Array.of(0.3), sds: Float64Array.of(0.01), weights: Float64Array.of(1) };
const unfitted = (response: MarkedResponse): MarkedResponse => ({
  ...response,
  shape,
  template: dipTemplate(timesS, 0, response.onTimes, shape),
  depth: deep,
  refined: null,
});
const early = marked.map((one, k) => (k === 1 ? { ...one, releaseS: 48.5 } : one));
const asMarked = new Map<readonly OnTime[], MarkedDetection>();
/** The detection by the marks, with the shape that made the dips and no fit of its own. */
function markedDetection(real: readonly OnTime[], loads: readonly MarkedLoad[] = [heat]): MarkedDetection {
  if (!asMarked.has(real)) asMarked.set(real, judgeOf(real)(loads));
  const found = asMarked.get(real)!;
  return { ...found, responses: found.responses.map(unfitted) };
}

/** Score of each story beside level, slope and the dips as marked: generalised least squares with the whole covariance. */
function denseScores({ design, fit }: MarkedDetection, stories: readonly (readonly OnTime[])[], common: Matrix) {
  const { series } = design;
  const { inverse } = invert(denseCovariance(series.timesS, series.readingCounts, fit.noise));
  const beside = [timesS.map(() => 1), timesS.map((t) => t - 50), ...common].map((one) => Array.from(one));
  const weighted = beside.map((column) => times(inverse, column));
  const { inverse: normal } = invert(weighted.map((row) => beside.map((column) => inner(row, column))));
  const product = (a: ArrayLike<number>, b: readonly number[]) => {
    const left = weighted.map((row) => inner(row, a));
    const right = weighted.map((row) => inner(row, b));
    return inner(a, times(inverse, b)) - inner(left, times(normal, right));
  };
  const readings = Array.from(series.valuesV);
  return stories.map((onTimes) => {
    const told = dipTemplate(timesS, 0, onTimes, shape);
    const change = Array.from(told, (value, i) => value - common[0]![i]!);
    return product(readings, change) / Math.sqrt(product(change, change));
  });
}

/** On-times of the stories that are judged anew, in turn, when each is refused. */
function asked(real: readonly OnTime[]): (readonly OnTime[])[] {
  const seen: (readonly OnTime[])[] = [];
  const detection = markedDetection(real);
  strayReleases(detection, [heat], (loads) => {
    seen.push(loads[0]!.onTimes);
    return { ...detection, fit: { ...detection.fit, objective: 1e9 } };
  });
  return seen;
}

describe("strayReleases() looks closer at", () => {
  const single = strayStories(marked, endS, GUARD_S).filter(({ ofAll }) => !ofAll);
  it.each([
    ["one that fell off early", early],
    ["one that fell off for good", [marked[0]!, { onsetS: 45, releaseS: 48.5 }]],
    ["one that fell off soon after it was switched", [{ onsetS: 30, releaseS: 30.9 }, ...marked.slice(1)]],
    ["one that was left on", marked.map((one, k) => (k === 2 ? { ...one, releaseS: 75 } : one))],
    ["one that was left on for half a minute", marked.map((one, k) => (k === 2 ? { ...one, releaseS: 97.6 } : one))],
    ["one that stayed on", marked.map((one, k) => (k === 2 ? { ...one, releaseS: 200 } : one))],
    ["one that was left on until shortly before the next", [{ onsetS: 30, releaseS: 43.4 }, ...marked.slice(1)]],
  ])("the story of the greatest score by dense least squares: %s", (_, real) => {
    const detection = markedDetection(real);
    const scores = denseScores(
      detection,
      single.map(({ onTimes }) => onTimes),
      [Array.from(dipTemplate(timesS, 0, marked, shape))],
    );
    const best = scores.indexOf(Math.max(...scores));
    expect(asked(real)).toContainEqual(single[best]!.onTimes);
  });

  it("all of them, where each fell off after the same short time, up to the guard before the shortest mark", () => {
    for (const onS of [1, 5, 6.5]) {
      const real = marked.map(({ onsetS }) => ({ onsetS, releaseS: onsetS + onS }));
      expect(asked(real), `${onS} s`).toContainEqual(real);
    }
  });

  it("all of them from the onsets that were fitted, without an inrush that was fitted to their ends", () => {
    // Each 0.9 s late: by the marks 4.5 s of on-time would end 0.9 s too soon.
    const lateS = 0.9;
    const real = marked.map(({ onsetS }) => ({ onsetS: onsetS + lateS, releaseS: onsetS + lateS + 4.5 }));
    const found = judgeOf(real)([heat]);
    const seen: number[] = [];
    const responses = found.responses.map((response) => ({
      ...unfitted(response),
      shape: { ...shape, inrush: 3, polarization: 2 },
      refined: {
        onTimes: marked.map(({ onsetS, releaseS }) => ({ onsetS: onsetS + lateS, releaseS })),
      } as unknown as RefinedDepth,
    }));
    const detection = { ...found, responses };
    strayReleases(detection, [heat], ([told]) => {
      const [first] = told!.onTimes;
      if (
        told!.onTimes.every(
          ({ onsetS, releaseS }) => Math.abs(releaseS - onsetS - first!.releaseS + first!.onsetS) < 1e-9,
        )
      )
        seen.push(first!.releaseS - first!.onsetS);
      return { ...detection, fit: { ...detection.fit, objective: 1e9 } };
    });
    expect(seen).toEqual([4.5]);
  });

  it("nothing where all went as marked", () => {
    expect(asked(marked)).toEqual([]);
  });
});

describe("strayReleases() believes a story", () => {
  /** Whether it is believed when the readings make it so much likelier, with what is doctored on either side. */
  function believed(
    gain: number,
    change: {
      readonly before?: (response: MarkedResponse) => MarkedResponse;
      readonly after?: (response: MarkedResponse) => MarkedResponse;
      readonly load?: MarkedLoad;
    } = {},
  ): ReturnType<typeof strayReleases> {
    const load = change.load ?? heat;
    const found = markedDetection(early);
    const detection = { ...found, responses: found.responses.map(change.before ?? ((one) => one)) };
    let calls = 0;
    return strayReleases(detection, [load], ([told]) => {
      calls += 1;
      const responses = found.responses.map((one) =>
        (change.after ?? ((same) => same))({ ...one, onTimes: told!.onTimes }),
      );
      // The second story is refused, so that one is told at the most.
      const objective = calls === 1 ? detection.fit.objective - gain : 1e9;
      return { ...found, fit: { ...detection.fit, objective }, responses };
    });
  }
  // A likelihood ratio above stories / 0.005 comes by chance in 0.5 % of recordings at the most: Markov's inequality.
  const needed = Math.log(strayStories(marked, endS, GUARD_S).length / 0.005);
  const fitted = (response: MarkedResponse, movedS: readonly (readonly [number, number])[]): MarkedResponse => ({
    ...response,
    refined: {
      onTimes: response.onTimes.map(({ onsetS, releaseS }, k) => ({
        onsetS: onsetS + movedS[k]![0],
        releaseS: releaseS + movedS[k]![1],
      })),
    } as unknown as RefinedDepth,
  });

  it("from a likelihood ratio of the number of stories over half a percent on", () => {
    expect(believed(needed - 0.01).strays).toEqual([]);
    expect(believed(needed + 0.01).strays).toEqual([
      { load: "heat", onsetS: 45, markedS: 53, seenS: 48.5, lasting: false },
    ]);
  });

  it("after what either side pays for moving its switchings: half the square of each move over the hand's uncertainty", () => {
    const moves = [
      [0.3, -0.2],
      [0, 0.1],
      [-0.1, 0],
    ] as const;
    // (9 + 4 + 1 + 1) / 2 at 0.1 s.
    const before = (one: MarkedResponse) => fitted(one, moves);
    expect(believed(needed - 7.51, { before }).strays).toEqual([]);
    expect(believed(needed - 7.49, { before }).strays).toHaveLength(1);
    const after = before;
    expect(believed(needed + 7.49, { after }).strays).toEqual([]);
    expect(believed(needed + 7.51, { after }).strays).toHaveLength(1);
  });

  it("a hand that is known to less than 0.02 s pays as one of 0.02 s", () => {
    const load = { ...heat, timeUncertaintyS: 0 };
    const after = (one: MarkedResponse) =>
      fitted(one, [
        [0.04, 0],
        [0, 0],
        [0, 0],
      ]);
    expect(believed(needed + 1.99, { after, load }).strays).toEqual([]);
    expect(believed(needed + 2.01, { after, load }).strays).toHaveLength(1);
  });

  it("of dips deeper than four of their standard uncertainties only", () => {
    const depth = (sd: number) => ({
      after: (one: MarkedResponse) => ({ ...one, depth: { ...deep, sds: Float64Array.of(sd) } }),
    });
    expect(believed(1000, depth(0.3 / 3.99)).strays).toEqual([]);
    expect(believed(1000, depth(0.3 / 4.01)).strays).toHaveLength(1);
  });

  it("of a release that stays off its mark when it is fitted, by the guard less two uncertainties of the hand", () => {
    const released = (releaseS: number) => ({
      after: (one: MarkedResponse) =>
        fitted(one, [
          [0, 0],
          [0, releaseS - 48.5],
          [0, 0],
        ]),
    });
    // 53 s less 1.5 s and more 0.2 s.
    expect(believed(1e6, released(51.71)).strays).toEqual([]);
    expect(believed(1e6, released(51.69)).strays).toMatchObject([{ seenS: expect.closeTo(51.69, 9) }]);
    expect(believed(1e6, released(54.31)).strays).toHaveLength(1);
    expect(believed(1e6, released(54.29)).strays).toEqual([]);
  });

  it("with a guard of six uncertainties of the hand where these are more than 1.5 s", () => {
    const load = { ...heat, timeUncertaintyS: 0.5 };
    const count = strayStories(marked, endS, 3).length;
    const wanted = Math.log(count / 0.005);
    expect(believed(wanted - 0.01, { load }).strays).toEqual([]);
    expect(believed(wanted + 0.01, { load }).strays).toHaveLength(1);
  });
});

describe("strayReleases()", () => {
  it("says of a load that stayed on before its last switching that it did so for good", () => {
    const real = [marked[0]!, { onsetS: 45, releaseS: 200 }];
    const judge = judgeOf(real);
    const { strays } = strayReleases(judge([heat]), [heat], judge);
    expect(strays).toEqual([{ load: "heat", onsetS: 45, markedS: 53, seenS: null, lasting: true }]);
  });

  it("does not shorten all of a load's on-times beside another that was on at the same time", () => {
    const real = marked.map(({ onsetS }) => ({ onsetS, releaseS: onsetS + 5 }));
    const kindsAsked = (otherOnsetS: number) => {
      const other: MarkedLoad = { ...heat, id: "other", onTimes: [{ onsetS: otherOnsetS, releaseS: otherOnsetS + 3 }] };
      const third: MarkedLoad = { ...heat, id: "third", onTimes: [{ onsetS: 85, releaseS: 88 }] };
      const loads = [heat, other, third];
      const found = judgeOf(real)(loads);
      const detection = { ...found, responses: found.responses.map(unfitted) };
      let shortened = 0;
      strayReleases(detection, loads, (changed) => {
        if (changed[0]!.onTimes.every(({ onsetS, releaseS }) => releaseS - onsetS < 8)) shortened += 1;
        return { ...detection, fit: { ...detection.fit, objective: 1e9 } };
      });
      return shortened;
    };
    // From 68.5 s on nothing of it is on; at 68.4 s it is.
    expect(kindsAsked(68.5)).toBe(1);
    expect(kindsAsked(68.4)).toBe(0);
    expect(kindsAsked(58)).toBe(0);
    expect(kindsAsked(57)).toBe(1);
  });

  it("finds the one load of two that fell off, whichever is marked first, and leaves the other as it was", () => {
    const others = [20, 72].map((onsetS) => ({ onsetS, releaseS: onsetS + 7 }));
    const lamp: MarkedLoad = { ...heat, id: "lamp", onTimes: others };
    for (const loads of [
      [heat, lamp],
      [lamp, heat],
    ]) {
      const random = randomGenerator(6);
      const dips = [dipTemplate(timesS, 0, early, shape), dipTemplate(timesS, 0, others, shape)];
      const series = {
        ...seriesOf([]),
        valuesV: timesS.map((_, i) => 24 + 0.3 * dips[0]![i]! + 0.2 * dips[1]![i]! + 0.02 * random.normal()),
      };
      const judge = (given: readonly MarkedLoad[]) =>
        detectMarked(series, given, { meter: { lagS: 0.3 }, random: randomGenerator(5) });
      const { strays, detection } = strayReleases(judge(loads), loads, judge);
      expect(strays).toMatchObject([{ load: "heat", onsetS: 45, markedS: 53, lasting: false }]);
      expect(Math.abs(strays[0]!.seenS! - 48.5)).toBeLessThan(0.6);
      expect(detection.responses.find(({ id }) => id === "lamp")!.onTimes).toEqual(others);
    }
  });

  it("tells three at the most", () => {
    const five = [20, 35, 50, 65, 80].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
    const real = five.map(({ onsetS }, k) => ({ onsetS, releaseS: onsetS + (k < 4 ? 2 + k : 8) }));
    const loads = [{ ...heat, onTimes: five }];
    const judge = judgeOf(real);
    const { strays } = strayReleases(judge(loads), loads, judge);
    expect(strays).toHaveLength(3);
    for (const { onsetS, seenS } of strays) {
      const truth = real.find((one) => one.onsetS === onsetS)!;
      expect(Math.abs(seenS! - truth.releaseS), `${onsetS} s`).toBeLessThan(0.6);
    }
  });
});
