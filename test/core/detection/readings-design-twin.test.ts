import { describe, expect, it } from "vitest";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import {
  denseCovariance,
  denseLevelCovariance,
  generalizedLeastSquares,
  invert,
  times,
} from "../../oracles/dense-noise.js";

const plain = { blockS: 0, outlierCount: 0, readingScatterV: 0.02, medianIntervalS: 0.5 };

describe("ReadingsDesign.jointDepths(): level and weights", () => {
  it("give the level without the dips at every reading, and the residuals under the inverse covariance", () => {
    const noise = { whiteV: 0.01, colouredV: 0.005, colouredTimeS: 1, walkVPerSqrtS: 0.01, bendVPerS15: 1e-4 };
    const timesS = Float64Array.from({ length: 40 }, (_, i) => 5 + 0.5 * i + 0.1 * Math.sin(3 * i));
    const dips = [6, 14].map((onsetS) => timesS.map((t) => (t > onsetS && t < onsetS + 4 ? -1 : 0)));
    const valuesV = timesS.map(
      (t, i) => 24 + 0.01 * t + 0.2 * dips[0]![i]! + 0.1 * dips[1]![i]! + 0.01 * Math.sin(9 * i),
    );
    const readingCounts = timesS.map((_, i) => 1 + (i % 3));
    const design = new ReadingsDesign({ timesS, valuesV, readingCounts, ...plain });
    const joint = design.jointDepths(dips, noise)!;
    const covariance = denseCovariance(timesS, readingCounts, noise);
    const { inverse } = invert(covariance);
    const columns = [timesS.map(() => 1), timesS.map((t) => t - 15), ...dips].map((column) => Array.from(column));
    const fit = generalizedLeastSquares(covariance, columns, valuesV);
    const weighted = times(inverse, fit.residuals);
    const wander = times(denseLevelCovariance(timesS, noise), weighted);
    const scale = Math.max(...weighted.map(Math.abs));
    timesS.forEach((t, i) => {
      const levelV = fit.estimates[0]! + fit.estimates[1]! * (t - 15) + wander[i]!;
      const dipV = fit.estimates[2]! * dips[0]![i]! + fit.estimates[3]! * dips[1]![i]!;
      expect(joint.driftV[i]!, `reading ${i}`).toBeCloseTo(levelV, 5);
      expect(joint.modelV[i]!, `reading ${i}`).toBeCloseTo(levelV + dipV, 5);
      expect(Math.abs(joint.weighted[i]! - weighted[i]!) / scale).toBeLessThan(1e-4);
    });
    expect(joint.depthsV[0]).toBeCloseTo(fit.estimates[2]!, 6);
  });
});
