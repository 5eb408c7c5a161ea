import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import {
  agreement,
  fewDiffer,
  oneEdgeOnly,
  oneHalfOnly,
  type SingleDip,
  scatterRatio,
  singleDips,
  switchingsDisagree,
} from "../../../src/core/detection/single-dips.js";
import { denseCovariance, inner, invert, times } from "../../oracles/dense-noise.js";

const dip = (depthV: number, uDepthV = 0.01): SingleDip => ({
  load: "a",
  onTime: { onsetS: 0, releaseS: 5 },
  depthV,
  uDepthV,
  referenceV: 24,
});

describe("switchingsDisagree()", () => {
  it.each([
    ["equal dips", [0.1, 0.11, 0.09], false],
    ["one of three shows everything", [0.3, 0.002, -0.004], true],
    ["two of three show, one nothing", [0.1, 0.105, 0.001], true],
    ["one opposes the others", [0.1, 0.1, -0.08], true],
    ["a first, cold heating twice as deep as the others", [0.2, 0.1, 0.1], false],
    ["nothing anywhere", [0.003, -0.008, 0.011], false],
    ["a single switching", [0.3], false],
    ["none", [], false],
  ] as const)("%s", (_name, depths, expected) => {
    expect(switchingsDisagree(depths.map((depthV) => dip(depthV)))).toBe(expected);
  });

  it("weighs each dip by its uncertainty: a poor one that shows nothing is no reason", () => {
    expect(switchingsDisagree([dip(0.1), dip(0.1), dip(0.02, 0.06)])).toBe(false);
  });

  it("does not hang on the order or the unit", () => {
    for (const depths of [
      [0.3, 0, 0.01],
      [0.01, 0.3, 0],
      [0, 0.01, 0.3],
    ]) {
      expect(switchingsDisagree(depths.map((depthV) => dip(depthV)))).toBe(true);
      expect(switchingsDisagree(depths.map((depthV) => dip(1000 * depthV, 10)))).toBe(true);
    }
  });

  it("calls no more than one in a thousand agreeing loads disagreeing", () => {
    const random = randomSource(17);
    let wrong = 0;
    for (let k = 0; k < 10_000; k++) {
      if (switchingsDisagree(Array.from({ length: 3 }, () => dip(0.04 + 0.01 * random.normal())))) wrong += 1;
    }
    // At 0.1 % ten are expected at the most; 24 have a chance of 1e-4.
    expect(wrong).toBeLessThan(24);
  });
});

describe("switchingsDisagree() and fewDiffer() beside their rules", () => {
  /** Chi-square that is passed by chance once in a thousand, for 1 to 5 degrees of freedom (published tables). */
  const ONCE_IN_1000 = [10.828, 13.816, 16.266, 18.467, 20.515];

  it("say so of depths drawn at random, each with an uncertainty of its own", () => {
    const random = randomSource(23);
    const seen = { share: 0, twice: 0, differ: 0, neither: 0 };
    for (let k = 0; k < 6000; k++) {
      const count = 2 + Math.floor(5 * random.uniform());
      const spread = 2 * random.uniform();
      const dips = Array.from({ length: count }, () =>
        dip(0.1 * (1 + spread * (random.uniform() - 0.6)), 0.004 + 0.03 * random.uniform() ** 2),
      );
      const weights = dips.map(({ uDepthV }) => uDepthV ** -2);
      const mean =
        dips.reduce((sum, { depthV }, j) => sum + weights[j]! * depthV, 0) / weights.reduce((sum, w) => sum + w, 0);
      const chiSquare = dips.reduce((sum, { depthV }, j) => sum + weights[j]! * (depthV - mean) ** 2, 0);
      const limit = ONCE_IN_1000[count - 2]!;
      // The tables give three digits.
      if (Math.abs(chiSquare - limit) < 0.001) continue;
      const differ = chiSquare > limit;
      const shares = differ && dips.some(({ depthV, uDepthV }) => 3 * depthV < mean && depthV < 2 * uDepthV);
      const [least, most] = dips.reduce(
        ([low, high], one) => [one.depthV < low.depthV ? one : low, one.depthV > high.depthV ? one : high],
        [dips[0]!, dips[0]!],
      );
      const beyondV = most.depthV - 2 * least.depthV;
      const twice = differ && count <= 3 && beyondV > Math.sqrt(most.uDepthV ** 2 + 4 * least.uDepthV ** 2);
      expect(switchingsDisagree(dips), `${k}`).toBe(shares || twice);
      expect(fewDiffer(dips), `${k}`).toBe(differ && count <= 3);
      seen[shares ? "share" : twice ? "twice" : differ ? "differ" : "neither"] += 1;
    }
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(100);
  });
});

describe("oneHalfOnly() and oneEdgeOnly() at their limits", () => {
  type Joint = { readonly depthsV: readonly number[]; readonly covarianceV2: Float64Array } | null;
  const timesS = Float64Array.of(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10);
  /** A load that was on until `releaseS`, of which the fit of the two columns says so. */
  const told = (joint: Joint, releaseS = 6) => {
    const response = {
      refined: null,
      onTimes: [{ onsetS: 2, releaseS }],
      shape: { shiftS: 0, lagS: 0, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 },
      template: new Float64Array(11),
    } as unknown as MarkedResponse;
    const design = { series: { timesS, blockS: 0 }, jointDepths: () => joint };
    const detection = { design, fit: { noise: {} }, responses: [response] } as unknown as MarkedDetection;
    return { half: oneHalfOnly(detection, response), edge: oneEdgeOnly(detection, response) };
  };
  /** Two sizes in millivolts, variances and covariance in units of 1e-4 V2. */
  const fitted = (
    sizesMV: readonly [number, number],
    [first, second, together]: readonly [number, number, number],
  ) => ({
    depthsV: sizesMV.map((mV) => mV / 1000),
    covarianceV2: Float64Array.of(first, together, together, second).map((v) => 1e-4 * v),
  });
  const half = (...of: Parameters<typeof fitted>) => told(fitted(...of)).half;
  const edge = (...of: Parameters<typeof fitted>) => told(fitted(...of)).edge;

  it("ask of the two halves 3.3 times the uncertainty of their difference: variances less twice the covariance", () => {
    // 99 mV over 3.3 are 30 mV: a variance of 9 units.
    expect(half([1, 100], [4, 4.9, 0])).toBe(true);
    expect(half([1, 100], [4, 5.1, 0])).toBe(false);
    expect(half([1, 100], [10, 10, 5.6])).toBe(true);
    expect(half([1, 100], [10, 10, 5.4])).toBe(false);
    expect(half([1, 100], [4, 4, -0.6])).toBe(false);
  });

  it("ask that one half is less than a third of the other, and less than twice its own uncertainty", () => {
    for (const turned of [false, true]) {
      const of = (leastMV: number, u2: number) =>
        turned ? half([90, leastMV], [2, u2, 1.9]) : half([leastMV, 90], [u2, 2, 1.9]);
      // 20 mV as the uncertainty of the lesser half: 4 units.
      expect(
        [29, 31].map((mV) => of(mV, 4)),
        `${turned}`,
      ).toEqual([true, false]);
      // Twice 14 mV and twice 13 mV.
      expect(
        [1.4 ** 2, 1.3 ** 2].map((u2) => of(27, u2)),
        `${turned}`,
      ).toEqual([true, false]);
    }
  });

  it("ask of the steps at the releases 3.3 times their uncertainty", () => {
    // All of the fall is made good by a step of 99 mV: 30 mV are 9 units.
    expect(edge([100, 99], [4, 8.9, 0])).toBe(true);
    expect(edge([100, 99], [4, 9.1, 0])).toBe(false);
    // Nothing at the onsets, and a rise at the releases.
    expect(edge([1, -99], [4, 8.9, 0])).toBe(true);
    expect(edge([1, -99], [4, 9.1, 0])).toBe(false);
  });

  it("ask that one edge is less than a third of the other, and less than twice its own uncertainty", () => {
    // The rise is fall less step; its variance is that of both less twice their covariance: 6 + 2 - 2 x 2 units.
    expect([29, 31].map((riseMV) => edge([90, 90 - riseMV], [6, 2, 2]))).toEqual([true, false]);
    expect([29, 31].map((fallMV) => edge([fallMV, fallMV - 90], [4, 2, 1]))).toEqual([true, false]);
    // A rise of 27 mV beside an uncertainty of 14 mV or 13 mV.
    expect([1.4 ** 2, 1.3 ** 2].map((u2) => edge([90, 63], [2 + u2, 2, 2]))).toEqual([true, false]);
    expect([1.4 ** 2, 1.3 ** 2].map((u2) => edge([27, -63], [u2, 2, 0]))).toEqual([true, false]);
  });

  it("ask for a reading more than a second after the release", () => {
    const clear = fitted([100, 99], [4, 4, 0]);
    expect([8.9, 9.1].map((releaseS) => told(clear, releaseS).edge)).toEqual([true, false]);
  });

  it("say nothing where the columns cannot be told apart", () => {
    expect(told(null)).toEqual({ half: false, edge: false });
  });
});

describe("singleDips()", () => {
  it("states the fitted level of the reading nearest to the middle of the dip", () => {
    const referenceV = (onsetS: number, releaseS: number) => {
      const response = {
        id: "a",
        refined: null,
        scaleSd: 0,
        onTimes: [{ onsetS, releaseS }],
        shape: { shiftS: 0, lagS: 0, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 },
      } as unknown as MarkedResponse;
      const joint = {
        depthsV: [0.1],
        covarianceV2: Float64Array.of(1e-4),
        driftV: Float64Array.of(24, 24.1, 24.2, 24.3, 24.4),
      };
      const design = { series: { timesS: Float64Array.of(0, 1, 2, 6, 7), blockS: 0 }, jointDepths: () => joint };
      return singleDips({ design, fit: { noise: {} }, responses: [response] } as unknown as MarkedDetection).dips[0]!
        .referenceV;
    };
    // Middles at 3.9, 4.1 and 1.4 s.
    expect(referenceV(1.8, 6)).toBe(24.2);
    expect(referenceV(1.8, 6.4)).toBe(24.3);
    expect(referenceV(0.4, 2.4)).toBe(24.1);
  });
});

const noise = { whiteV: 0.01, colouredV: 0.004, colouredTimeS: 0.8, walkVPerSqrtS: 1e-4, bendVPerS15: 1e-6 };
const timesS = Float64Array.from({ length: 120 }, (_, i) => 0.5 * i);
const covariance = denseCovariance(timesS, new Float64Array(120).fill(1), noise);
const LAG_S = 0.4;
const shape = { shiftS: 0, lagS: LAG_S, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
/** What a fall at one time leaves at another, through a lag: minus 1 in the end. */
const fallen = (sinceS: number) => (sinceS > 0 ? Math.exp(-sinceS / LAG_S) - 1 : 0);
const dipColumn = (onsetS: number, releaseS: number) =>
  Array.from(timesS, (t) => fallen(t - onsetS) - fallen(t - releaseS));

const { inverse } = invert(covariance);

/** Depths of all columns beside level and slope, and their covariance, by textbook least squares. */
function dense(columns: readonly (readonly number[])[], valuesV: ArrayLike<number>) {
  const line = [timesS.map(() => 1), timesS.map((t) => (t - 30) / 30)].map((column) => Array.from(column));
  const all = [...line, ...columns];
  const weighted = all.map((column) => times(inverse, column));
  const { inverse: own } = invert(weighted.map((row) => all.map((column) => inner(row, column))));
  const estimates = times(
    own,
    weighted.map((row) => inner(row, valuesV)),
  );
  return { depthsV: estimates.slice(2), at: (a: number, b: number) => own[a + 2]![b + 2]! };
}

/** Readings that are the sum of columns of given sizes and of noise, and loads whose template is the sum of their own. */
function detected(
  parts: readonly (readonly [readonly number[], number])[],
  loads: readonly { readonly onTimes: readonly (readonly [number, number])[]; readonly more?: object }[],
  seed: number,
) {
  const random = randomSource(seed);
  const valuesV = timesS.map((t, i) => {
    return (
      24 - 0.001 * t + 0.01 * random.normal() + parts.reduce((sum, [column, sizeV]) => sum + sizeV * column[i]!, 0)
    );
  });
  const design = new ReadingsDesign({
    timesS,
    valuesV,
    readingCounts: new Float64Array(120).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.01,
    medianIntervalS: 0.5,
  });
  const responses = loads.map(({ onTimes, more }, k) => {
    const columns = onTimes.map(([onsetS, releaseS]) => dipColumn(onsetS, releaseS));
    const template = Float64Array.from(timesS, (_, i) => columns.reduce((sum, column) => sum + column[i]!, 0));
    const marked = onTimes.map(([onsetS, releaseS]) => ({ onsetS, releaseS }));
    return {
      id: `${k}`,
      refined: null,
      scaleSd: 0,
      onTimes: marked,
      shape,
      template,
      ...more,
    } as unknown as MarkedResponse;
  });
  const detection = { design, fit: { noise }, responses } as unknown as MarkedDetection;
  return { detection, responses, valuesV };
}

const A = [
  [6.2, 11.1],
  [18.3, 24.2],
  [41.4, 46.3],
] as const;
const B = [
  [28.1, 33.4],
  [49.2, 54.3],
] as const;

describe("singleDips() by dense least squares", () => {
  it("fits each switching its own depth beside all others, with what is open of noise and shape", () => {
    const refined = {
      onTimes: A.map(([onsetS, releaseS]) => ({ onsetS, releaseS })),
      depthV: 0.2,
      uDepthV: 0.013,
      uNoiseV: 0.005,
    };
    // The marks of the second load are 0.7 s early; those of the first were fitted, whatever its shape says of a shift.
    const each = [
      ...A.map(([onS, offS]) => dipColumn(onS, offS)),
      ...B.map(([onS, offS]) => dipColumn(onS + 0.7, offS + 0.7)),
    ];
    const sizesV = [0.2, 0.25, 0.15, 0.06, -0.02];
    const { detection, valuesV } = detected(
      each.map((column, k) => [column, sizesV[k]!] as const),
      [
        { onTimes: A, more: { refined, scaleSd: 0.1, shape: { ...shape, shiftS: 0.9 } } },
        { onTimes: B, more: { scaleSd: 0.3, shape: { ...shape, shiftS: 0.7 } } },
      ],
      3,
    );
    const { dips } = singleDips(detection);
    const { depthsV, at } = dense(each, valuesV);
    expect(dips.map(({ load }) => load)).toEqual(["0", "0", "0", "1", "1"]);
    dips.forEach(({ depthV, uDepthV, onTime }, k) => {
      expect(depthV).toBeCloseTo(depthsV[k]!, 6);
      expect([onTime.onsetS, onTime.releaseS]).toEqual([...A, ...B][k]);
      // The mean of a log-normal scale is exp(s^2 / 2); the fitted shape's own part is 0.012 of 0.2.
      const noiseV = Math.sqrt(at(k, k)) * Math.exp((k < 3 ? 0.01 : 0.09) / 2);
      const shapeV = k < 3 ? (Math.sqrt(0.013 ** 2 - 0.005 ** 2) / 0.2) * depthsV[k]! : 0;
      expect(uDepthV).toBeCloseTo(Math.hypot(noiseV, shapeV), 6);
    });
  });

  it("leaves out switchings that no reading shows", () => {
    const { detection } = detected([], [{ onTimes: [...A, [200, 205]] }], 4);
    expect(singleDips(detection).dips).toHaveLength(3);
  });
});

describe("oneEdgeOnly() and oneHalfOnly() by dense least squares", () => {
  const template = A.map(([onsetS, releaseS]) => dipColumn(onsetS, releaseS)).reduce((a, b) =>
    a.map((v, i) => v + b[i]!),
  );
  const others = B.map(([onsetS, releaseS]) => dipColumn(onsetS, releaseS)).reduce((a, b) =>
    a.map((v, i) => v + b[i]!),
  );
  const random = randomSource(31);
  const sizes = Array.from(
    { length: 60 },
    (_, k) => [0.12, k % 3 === 0 ? 0 : 0.16 * (random.uniform() - 0.25)] as const,
  );

  it("says that only one edge shows where the other is nothing, less than a third, and surely less", () => {
    const steps = A.map(([, releaseS]) => Array.from(timesS, (t) => fallen(t - releaseS))).reduce((a, b) =>
      a.map((v, i) => v + b[i]!),
    );
    let told = 0;
    sizes.forEach(([fullV, otherV], k) => {
      for (const [onsetV, releaseV] of [
        [fullV, otherV],
        [otherV, fullV],
      ] as const) {
        const parts = [
          [template, onsetV],
          [steps, onsetV - releaseV],
          [others, 0.05],
        ] as const;
        const { detection, responses, valuesV } = detected(parts, [{ onTimes: A }, { onTimes: B }], 100 + k);
        const { depthsV, at } = dense([template, steps, others], valuesV);
        const rise = depthsV[0]! - depthsV[1]!;
        const uRise = Math.sqrt(at(0, 0) + at(1, 1) - 2 * at(0, 1));
        const [least, uLeast, most] =
          depthsV[0]! < rise ? [depthsV[0]!, Math.sqrt(at(0, 0)), rise] : [rise, uRise, depthsV[0]!];
        const wanted = Math.abs(depthsV[1]!) > 3.3 * Math.sqrt(at(1, 1)) && least < most / 3 && least < 2 * uLeast;
        expect(oneEdgeOnly(detection, responses[0]!), `${k}: ${onsetV} V, ${releaseV} V`).toBe(wanted);
        if (wanted) told += 1;
      }
    });
    expect(told).toBeGreaterThan(20);
    expect(told).toBeLessThan(100);
  });

  it("does not ask for the rise of a load that is on to the end", () => {
    const on = [[30, 59]] as const;
    const { detection, responses } = detected([[dipColumn(30, 70), 0.2]], [{ onTimes: on }], 5);
    expect(oneEdgeOnly(detection, responses[0]!)).toBe(false);
    const early = detected([[dipColumn(30, 70), 0.2]], [{ onTimes: [[30, 50]] }], 5);
    expect(oneEdgeOnly(early.detection, early.responses[0]!)).toBe(true);
  });

  it("says that only one half shows where the other is nothing, less than a third, and surely less", () => {
    const half = (from: number) =>
      A.map(([onsetS, releaseS]) => {
        const middleS = (onsetS + releaseS) / 2;
        return from === 0 ? dipColumn(onsetS, middleS) : dipColumn(middleS, releaseS);
      }).reduce((a, b) => a.map((v, i) => v + b[i]!));
    let told = 0;
    sizes.forEach(([fullV, otherV], k) => {
      for (const halves of [
        [fullV, otherV],
        [otherV, fullV],
      ] as const) {
        const parts = [
          [half(0), halves[0]],
          [half(1), halves[1]],
          [others, 0.05],
        ] as const;
        const { detection, responses, valuesV } = detected(parts, [{ onTimes: A }, { onTimes: B }], 200 + k);
        const { depthsV, at } = dense([half(0), half(1), others], valuesV);
        const uDifference = Math.sqrt(at(0, 0) + at(1, 1) - 2 * at(0, 1));
        const low = depthsV[0]! < depthsV[1]! ? 0 : 1;
        const wanted =
          Math.abs(depthsV[0]! - depthsV[1]!) > 3.3 * uDifference &&
          depthsV[low]! < depthsV[1 - low]! / 3 &&
          depthsV[low]! < 2 * Math.sqrt(at(low, low));
        expect(oneHalfOnly(detection, responses[0]!), `${k}: ${halves} V`).toBe(wanted);
        if (wanted) told += 1;
      }
    });
    expect(told).toBeGreaterThan(20);
    expect(told).toBeLessThan(100);
  });
});

describe("agreement() and scatterRatio()", () => {
  it("are the weighted mean, and the scatter about it in uncertainties", () => {
    const dips = [dip(0.1, 0.01), dip(0.13, 0.02), dip(0.08, 0.04)];
    const weights = [1e4, 2500, 625];
    const mean = (0.1 * weights[0]! + 0.13 * weights[1]! + 0.08 * weights[2]!) / 13_125;
    const chiSquare = dips.reduce((sum, { depthV }, k) => sum + weights[k]! * (depthV - mean) ** 2, 0);
    expect(agreement(dips).mean).toBeCloseTo(mean, 12);
    expect(agreement(dips).chiSquare).toBeCloseTo(chiSquare, 9);
    expect(scatterRatio(dips)).toBeCloseTo(Math.sqrt(chiSquare / 2), 12);
    expect([scatterRatio([]), scatterRatio([dip(0.1)])]).toEqual([0, 0]);
    expect(scatterRatio([dip(0.1), dip(0.12)])).toBeCloseTo(Math.SQRT2, 12);
  });
});
