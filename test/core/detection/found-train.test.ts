import { describe, expect, it } from "vitest";
import { type KnownDips, takeOut } from "../../../src/core/detection/found-train.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { dipTemplate, type OnTime } from "../../../src/core/detection/switching-template.js";

const noise = { whiteV: 0.01, colouredV: 1e-6, colouredTimeS: 1, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
const timesS = Float64Array.from({ length: 500 }, (_, i) => i * 0.4);
const shape = { shiftS: 0, lagS: 0.3, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
const times = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));

/** A level with dips of the told depths, without noise of its own. */
function designOf(dips: readonly (readonly [OnTime, number])[]): ReadingsDesign {
  const valuesV = timesS.map(() => 24);
  for (const [onTime, depthV] of dips) {
    dipTemplate(timesS, 0, [onTime], shape).forEach((v, i) => {
      valuesV[i]! += depthV * v;
    });
  }
  return new ReadingsDesign({
    timesS,
    valuesV,
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.01,
    medianIntervalS: 0.4,
  });
}
const none = (): KnownDips => ({ templates: [], onTimes: [] });
/** Onsets of the members that are taken out when these were found. */
function taken(dips: readonly (readonly [number, number])[], found: readonly OnTime[], known = none(), depthV = 0.2) {
  const design = designOf(dips.map(([onsetS, each]) => [times(onsetS)[0]!, each] as const));
  return takeOut(design, known, { onTimes: found }, depthV, noise, 0.3).map(({ onsetS }) => Math.round(onsetS));
}

describe("takeOut()", () => {
  it("keeps the members that the readings show, and drops those that they do not", () => {
    const three = [
      [60, 0.2],
      [70, 0.2],
      [80, 0.2],
    ] as const;
    expect(taken(three, times(60, 70, 80))).toEqual([60, 70, 80]);
    expect(taken(three.slice(0, 2), times(60, 70, 80))).toEqual([60, 70]);
    // Four tenths of the deepest is the limit.
    expect(taken([...three.slice(0, 2), [80, 0.09]], times(60, 70, 80))).toEqual([60, 70, 80]);
    expect(taken([...three.slice(0, 2), [80, 0.07]], times(60, 70, 80))).toEqual([60, 70]);
  });

  it("adds a neighbour at the same rhythm that is beyond doubt, on either side", () => {
    const four = [
      [50, 0.2],
      [60, 0.2],
      [70, 0.2],
      [80, 0.2],
    ] as const;
    expect(taken(four, times(60, 70))).toEqual([50, 60, 70, 80]);
    // A lone dip's rhythm is twice its time on.
    expect(taken(four, times(60))).toEqual([50, 60, 70]);
  });

  it("adds no neighbour that lies in dips that were found before, nor past the readings", () => {
    const known = none();
    const earlier = times(80);
    known.onTimes.push(...earlier);
    known.templates.push(dipTemplate(timesS, 0, earlier, shape));
    const dips = [
      [60, 0.2],
      [70, 0.2],
      [80, 0.2],
    ] as const;
    expect(taken(dips, times(60, 70), known)).toEqual([60, 70]);
    expect(
      taken(
        [
          [5, 0.2],
          [15, 0.2],
        ],
        times(5, 15),
      ),
    ).toEqual([5, 15]);
  });

  it("keeps a member from two uncertainties on, and adds a neighbour from four", () => {
    const found = (whiteV: number, members: readonly number[]) => {
      const design = designOf([
        [times(60)[0]!, 0.4],
        [times(70)[0]!, 0.4],
        [times(80)[0]!, 0.2],
      ]);
      const onTimes = takeOut(design, none(), { onTimes: times(...members) }, 0.3, { ...noise, whiteV }, 0.3);
      return onTimes.map(({ onsetS }) => Math.round(onsetS));
    };
    // Twelve readings and a half in each dip, most of 500 beside it: 0.2 V are 0.7 V over the noise of a reading.
    expect(found(0.7 / 2.3, [60, 70, 80])).toEqual([60, 70, 80]);
    expect(found(0.7 / 1.7, [60, 70, 80])).toEqual([60, 70]);
    expect(found(0.7 / 3.6, [60, 70])).toEqual([60, 70]);
    expect(found(0.7 / 4.4, [60, 70])).toEqual([60, 70, 80]);
  });

  it("adds a neighbour that ends where a known dip begins or begins where it ends, and none that overlaps it by less", () => {
    const beside = (onsetS: number, releaseS: number) => {
      const known = none();
      known.onTimes.push({ onsetS, releaseS });
      const dips = [50, 60, 70, 80].map((at) => [at, 0.2] as const);
      return taken(dips, times(60, 70), known);
    };
    expect(beside(85, 90)).toEqual([50, 60, 70, 80]);
    expect(beside(84.9, 90)).toEqual([50, 60, 70]);
    expect(beside(75, 80)).toEqual([50, 60, 70, 80]);
    expect(beside(75, 80.1)).toEqual([50, 60, 70]);
    expect(beside(45, 50)).toEqual([50, 60, 70, 80]);
    expect(beside(55, 60)).toEqual([50, 60, 70, 80]);
    expect(beside(54.9, 60)).toEqual([60, 70, 80]);
    expect(beside(0, 300)).toEqual([60, 70]);
  });

  it("adds a neighbour only where the readings reach a second beyond it", () => {
    const reaching = (fromS: number, toS: number) => {
      const { series } = designOf([50, 60, 70, 80].map((at) => [times(at)[0]!, 0.2] as const));
      const [from, to] = [fromS, toS].map((at) => series.timesS.findIndex((t) => t > at));
      const cut = (values: Float64Array) => values.slice(from, to);
      const design = new ReadingsDesign({
        ...series,
        timesS: cut(series.timesS),
        valuesV: cut(series.valuesV),
        readingCounts: cut(series.readingCounts),
      });
      const found = takeOut(design, none(), { onTimes: times(60, 70) }, 0.2, noise, 0.3);
      return found.map(({ onsetS }) => Math.round(onsetS));
    };
    // Readings every 0.4 s: the first at 48.8 or 49.2 s, the last at 86.0 or 86.4 s.
    expect(reaching(48.5, 86.5)).toEqual([50, 60, 70, 80]);
    expect(reaching(49, 86.5)).toEqual([60, 70, 80]);
    expect(reaching(48.5, 86.1)).toEqual([50, 60, 70]);
  });

  it("keeps all members where none stands out", () => {
    expect(taken([], times(60, 70), none(), 0.0001)).toEqual([60, 70]);
  });

  it("adds what takes the dips out, and what a wrong shape of theirs would leave, to the known ones", () => {
    const known = none();
    const design = designOf(times(60, 70).map((one) => [one, 0.2] as const));
    const onTimes = takeOut(design, known, { onTimes: times(60, 70) }, 0.2, noise, 0.3);
    expect(known.onTimes).toEqual(onTimes);
    expect(known.templates).toHaveLength(3);
    // With them nothing of the dips is left.
    const joint = design.jointDepths(known.templates, noise)!;
    const misfit = design.series.valuesV.reduce((most, v, i) => Math.max(most, Math.abs(v - joint.modelV[i]!)), 0);
    expect(misfit).toBeLessThan(0.01);
  });

  it("takes the lag to be a typical one where the profile does not tell it", () => {
    const design = designOf(times(60, 70).map((one) => [one, 0.2] as const));
    const onTimes = takeOut(design, none(), { onTimes: times(60, 70) }, 0.2, noise, undefined);
    expect(onTimes.map(({ onsetS }) => Math.round(onsetS))).toEqual([60, 70]);
  });

  it("holds on to a lag that the profile tells, and fits it where none is told", () => {
    // A needle of 1.5 s, of which one of 0.3 s is told: the fit moves away from it little, so that edges stay unexplained.
    const slow = { ...shape, lagS: 1.5 };
    const valuesV = timesS.map(() => 24);
    dipTemplate(timesS, 0, times(60, 70, 80), slow).forEach((v, i) => {
      valuesV[i]! += 0.2 * v;
    });
    const design = new ReadingsDesign({ ...designOf([]).series, valuesV });
    const furthestOff = (lagS: number | undefined) => {
      const known = none();
      takeOut(design, known, { onTimes: times(60, 70, 80) }, 0.2, { ...noise, whiteV: 0.06 }, lagS);
      const { modelV } = design.jointDepths(known.templates.slice(0, 1), noise)!;
      return valuesV.reduce((most, v, i) => Math.max(most, Math.abs(v - modelV[i]!)), 0);
    };
    expect(furthestOff(0.3)).toBeGreaterThan(2 * furthestOff(undefined));
    expect(furthestOff(0.3)).toBeGreaterThan(2 * furthestOff(1.5));
  });
});
