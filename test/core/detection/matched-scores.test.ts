import { describe, expect, it } from "vitest";
import { matchedScores } from "../../../src/core/detection/matched-scores.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { dipTemplate } from "../../../src/core/detection/switching-template.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";
import { noises, readingCounts, residualsV, timesS } from "../noise/readings.js";

const noise = noises[4]![1];
const shape = { shiftS: 0, lagS: 0.2, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
const covariance = denseCovariance(timesS, readingCounts, noise);
const common = [new Float64Array(timesS.length).fill(1), timesS.map((t) => (t - 15) / 12)];
const templates = [
  dipTemplate(timesS, 0, [{ onsetS: 4.2, releaseS: 7 }], shape),
  dipTemplate(timesS, 0, [{ onsetS: 4.6, releaseS: 8.2 }], { ...shape, inrush: 1 }),
  dipTemplate(timesS, 0, [{ onsetS: 24.1, releaseS: 26.9 }], shape),
];

function score(each: readonly Float64Array[], commonCount = 2) {
  const all = [...common, ...each.slice(0, commonCount - 2), residualsV, ...each.slice(commonCount - 2)];
  const columns = Float64Array.from(
    { length: timesS.length * all.length },
    (_, k) => all[k % all.length]![Math.floor(k / all.length)]!,
  );
  const counts = { common: commonCount, templates: each.length - (commonCount - 2) };
  return matchedScores({ timesS, readingCounts }, columns, counts, noise, true);
}

describe("matchedScores()", () => {
  const found = score(templates);

  it("fits each template as textbook generalised least squares with the dense covariance does", () => {
    templates.forEach((template, j) => {
      const fit = generalizedLeastSquares(
        covariance,
        [...common, template].map((c) => Array.from(c)),
        residualsV,
      );
      const u = Math.sqrt(fit.estimateCovariance[2]![2]!);
      expect(Math.abs(found.amplitudesV[j]! - fit.estimates[2]!), `template ${j}`).toBeLessThan(1e-4 * u);
      expect(Math.abs(found.uAmplitudesV[j]! / u - 1), `template ${j}`).toBeLessThan(1e-5);
      expect(found.scores[j]!).toBeCloseTo(fit.estimates[2]! / u, 3);
    });
  });

  it("gives the correlation of two scores that their joint fit has, with the other sign", () => {
    // Of two estimates fitted together the correlation is minus that of the two fitted alone.
    const fit = generalizedLeastSquares(
      covariance,
      [...common, templates[0]!, templates[1]!].map((c) => Array.from(c)),
      residualsV,
    );
    const [a, b, ab] = [fit.estimateCovariance[2]![2]!, fit.estimateCovariance[3]![3]!, fit.estimateCovariance[2]![3]!];
    expect(found.correlations![1]).toBeCloseTo(-ab / Math.sqrt(a * b), 4);
    for (let j = 0; j < 3; j++) expect(found.correlations![j * 3 + j]).toBeCloseTo(1, 9);
    expect(found.correlations![3]).toBeCloseTo(found.correlations![1]!, 12);
  });

  it("gives a template among the common columns no score and an infinite uncertainty", () => {
    const again = score([templates[0]!, templates[0]!, templates[2]!], 3);
    expect(again.uAmplitudesV[0]).toBe(Number.POSITIVE_INFINITY);
    expect(again.scores[0]).toBe(0);
    expect(again.uAmplitudesV[1]).toBeLessThan(1);
  });

  it("does not change where a common column says nothing more than the others", () => {
    const [first, second, third] = templates as [Float64Array, Float64Array, Float64Array];
    const plain = score([first, second, third], 3);
    const sum = first.map((v, i) => 0.5 * v - 2 * common[0]![i]! + common[1]![i]!);
    for (const more of [first, sum, new Float64Array(timesS.length)]) {
      const again = score([first, more, second, third], 4);
      for (const j of [0, 1]) {
        expect(again.amplitudesV[j]!).toBeCloseTo(plain.amplitudesV[j]!, 7);
        expect(again.uAmplitudesV[j]! / plain.uAmplitudesV[j]!).toBeCloseTo(1, 7);
      }
      expect(again.correlations![1]).toBeCloseTo(plain.correlations![1]!, 7);
    }
  });
});

describe("ReadingsDesign.jointDepths()", () => {
  const series = {
    timesS,
    valuesV: residualsV.map((v) => v + 24),
    readingCounts,
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.02,
    medianIntervalS: 0.5,
  };
  const design = new ReadingsDesign(series);

  it("fits all depths together as textbook generalised least squares does", () => {
    const joint = design.jointDepths(templates, noise)!;
    const fit = generalizedLeastSquares(
      covariance,
      [...common, ...templates].map((c) => Array.from(c)),
      series.valuesV,
    );
    for (let a = 0; a < 3; a++) {
      const u = Math.sqrt(fit.estimateCovariance[a + 2]![a + 2]!);
      expect(Math.abs(joint.depthsV[a]! - fit.estimates[a + 2]!)).toBeLessThan(1e-3 * u);
      for (let b = 0; b < 3; b++) {
        const uu = u * Math.sqrt(fit.estimateCovariance[b + 2]![b + 2]!);
        expect(Math.abs(joint.covarianceV2[a * 3 + b]! - fit.estimateCovariance[a + 2]![b + 2]!)).toBeLessThan(
          1e-4 * uu,
        );
      }
    }
  });

  it("is null for two dips that are the same", () => {
    expect(design.jointDepths([templates[0]!, templates[0]!], noise)).toBeNull();
  });
});
