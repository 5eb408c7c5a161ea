import { describe, expect, it } from "vitest";
import { matchedScores } from "../../../src/core/detection/matched-scores.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";
import {
  type BusProfile,
  type MarkClock,
  markClock,
  type Recording,
  type SwitchingMark,
} from "../../../src/core/index.js";
import { fitNoise, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { recordingFacts } from "../../../src/core/recording-facts.js";
import { readingWeights, workingSeries } from "../../../src/core/series/working-series.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

type Marked = Readonly<Record<string, readonly OnTime[]>>;
const profile: BusProfile = {
  meter: { smallestDivisionV: 1, lagS: 0.25 },
  loads: [
    { id: "a", kind: "heater", reference: false },
    { id: "b", kind: "resistive", reference: false },
  ],
};
const marksOf = (marked: Marked): SwitchingMark[] =>
  Object.entries(marked).flatMap(([load, onTimes]) =>
    onTimes.flatMap(({ onsetS, releaseS }) => [
      { timeS: onsetS, load, action: "on" as const },
      { timeS: releaseS, load, action: "off" as const },
    ]),
  );

/** A recording whose clock is so much behind that of the marks, with dips of these depths. */
function recorded(marked: Marked, laterS: number, depthsV: Readonly<Record<string, number>>, seed: number): Recording {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 360 }, (_, i) => i * 0.3);
  let coloured = 0;
  const voltagesV = timesS.map((t) => {
    coloured = 0.7 * coloured + 0.01 * random.normal();
    const dips = Object.entries(marked).map(([load, onTimes]) =>
      onTimes.some(({ onsetS, releaseS }) => t >= onsetS + laterS && t < releaseS + laterS) ? (depthsV[load] ?? 0) : 0,
    );
    return 24.3 - 0.0003 * t - dips.reduce((a, b) => a + b, 0) + coloured + 0.015 * random.normal();
  });
  return { timesS, voltagesV };
}

/** Every setting of the clock on a mesh of half a second, judged one by one, and the eleven tenths about the best ones. */
function byHand(recording: Recording, marked: Marked, known: BusProfile | null): MarkClock {
  const { timesS, voltagesV } = recording;
  const span = { start: 0, end: timesS.length };
  const { displayStepV } = recordingFacts(recording, known);
  const blockS = Math.max(0.25, (timesS.at(-1)! - timesS[0]!) / 6000);
  const series = workingSeries(timesS, voltagesV, span, blockS, displayStepV, readingWeights(undefined));
  const design = new ReadingsDesign(series);
  const readAtS = series.timesS;
  const shapeOf = (load: string) => ({
    shiftS: 0,
    lagS: known?.meter?.lagS ?? 0.35,
    inrush: known?.loads.find(({ id }) => id === load)?.kind === "heater" ? 0.5 : 0,
    settleS: 3,
    polarization: 0.3,
    polarizationS: 20,
  });
  const dipOf = (load: string, laterS: number) => {
    const moved = marked[load]!.map(({ onsetS, releaseS }) => ({
      onsetS: onsetS + laterS,
      releaseS: releaseS + laterS,
    }));
    return dipTemplate(readAtS, series.blockS, moved, shapeOf(load));
  };
  const noiseBeside = (dips: readonly Float64Array[]) =>
    fitNoise(
      design.explained(dips.filter((dip) => dip.some((value) => value !== 0))),
      weakNoisePrior(design.scatterV, design.intervalS),
    ).noise;
  // Bayes factor of a depth whose spread beforehand is five uncertainties: 0.5 z^2 25 / 26 - 0.5 ln 26.
  const gainAt = (laterS: number, noise: ReturnType<typeof noiseBeside>) =>
    Object.keys(marked).reduce((sum, load) => {
      const { columns } = design.columns([], [dipOf(load, laterS)]);
      const [z] = matchedScores(series, columns, { common: 2, templates: 1 }, noise, false).scores;
      return sum + (z! > 0 ? Math.max(0, (z! * z! * 25) / 52 - Math.log(26) / 2) : 0);
    }, 0);
  const onTimes = Object.values(marked).flat();
  const [firstS, lastS] = [
    Math.min(...onTimes.map((one) => one.onsetS)),
    Math.max(...onTimes.map((one) => one.releaseS)),
  ];
  const [fromS, toS] = [readAtS[0]! - lastS, readAtS.at(-1)! - firstS];
  const settings = Array.from({ length: Math.max(1, Math.ceil((toS - fromS) / 0.5)) }, (_, k) => fromS + k * 0.5);
  const needed = Math.log(settings.length / 0.001);
  const blind = noiseBeside([]);
  const plain = settings.map((laterS) => gainAt(laterS, blind));
  const top = plain.indexOf(Math.max(...plain));
  if (plain[top]! < needed) return { known: false, why: "nothing-answers" };
  const noise = noiseBeside(Object.keys(marked).map((load) => dipOf(load, settings[top]!)));
  const ranked = settings
    .map((laterS) => ({ laterS, gain: gainAt(laterS, noise) }))
    .sort((one, other) => other.gain - one.gain);
  const peaks: number[] = [];
  for (const { laterS } of ranked) {
    if (peaks.length < 8 && peaks.every((peakS) => Math.abs(peakS - laterS) >= 3)) peaks.push(laterS);
  }
  const [best, next] = peaks
    .map((peakS) =>
      Array.from({ length: 11 }, (_, k) => peakS + (k - 5) * 0.1)
        .map((laterS) => ({ laterS, gain: gainAt(laterS, noise) }))
        .reduce((one, other) => (other.gain > one.gain ? other : one)),
    )
    .sort((one, other) => other.gain - one.gain);
  if (0.95 * best!.gain - (next?.gain ?? 0) < needed) return { known: false, why: "several-fit" };
  return { known: true, laterS: best!.laterS };
}

const irregular: Marked = {
  a: [
    { onsetS: 10, releaseS: 15 },
    { onsetS: 19, releaseS: 27 },
  ],
  b: [
    { onsetS: 40, releaseS: 43 },
    { onsetS: 47, releaseS: 57 },
    { onsetS: 61, releaseS: 64 },
  ],
};

describe("markClock() beside every setting judged one by one", () => {
  it.each([
    ["both answer", 12.3, { a: 0.1, b: 0.08 }],
    ["one answers", -4.1, { b: 0.06 }],
    ["faint dips", 20, { a: 0.02, b: 0.02 }],
    ["fainter dips", 20, { a: 0.012, b: 0.012 }],
    ["the marks begin before the readings", -20.4, { a: 0.1, b: 0.08 }],
    ["the marks end after the readings", 48.8, { a: 0.1, b: 0.08 }],
    ["the marks of one load alone within the readings", 83, { a: 0.1, b: 0.08 }],
    ["nothing answers", 0, {}],
    ["the voltage rises", 5, { a: -0.1, b: -0.1 }],
  ])("says the same: %s", (_, laterS, depthsV) => {
    const told: boolean[] = [];
    for (let seed = 1; seed <= 3; seed++) {
      const recording = recorded(irregular, laterS, depthsV, seed);
      for (const known of [profile, null]) {
        const found = markClock(recording, marksOf(irregular), known);
        const hand = byHand(recording, irregular, known);
        told.push(found.known);
        if (!found.known || !hand.known) expect(found, `seed ${seed}`).toEqual(hand);
        else expect(found.laterS).toBeCloseTo(hand.laterS, 9);
      }
    }
    expect(told).toHaveLength(6);
  });

  it("has six thousand blocks at the most: of a recording longer than 6000 s one is longer than the second it needs", () => {
    const lasting = (endS: number): Recording => {
      // A minute and a half of readings, and one more at the end.
      const timesS = Float64Array.from({ length: 100 }, (_, i) => 3000 + (i < 99 ? i : endS));
      return { timesS, voltagesV: timesS.map((_, i) => 24 + (i % 7) / 100) };
    };
    const marks = marksOf({ a: [{ onsetS: 0, releaseS: 10 }] });
    expect(markClock(lasting(6000), marks, null)).toEqual({ known: false, why: "nothing-answers" });
    expect(markClock(lasting(6001), marks, null)).toEqual({ known: false, why: "too-slow" });
  });

  it("needs forty readings, no farther apart than a second", () => {
    const recording = recorded(irregular, 12.3, { a: 0.1, b: 0.08 }, 1);
    const cut = (count: number, slower = 1): Recording => ({
      timesS: recording.timesS.slice(0, count).map((t) => slower * t),
      voltagesV: recording.voltagesV.slice(0, count),
    });
    const slow = { known: false, why: "too-slow" };
    expect(markClock(cut(39), marksOf(irregular), profile)).toEqual(slow);
    expect(markClock(cut(40), marksOf(irregular), profile)).not.toEqual(slow);
    expect(markClock(cut(300, 1 / 0.31), marksOf(irregular), profile)).not.toEqual(slow);
    expect(markClock(cut(300, 1 / 0.29), marksOf(irregular), profile)).toEqual(slow);
  });
});
