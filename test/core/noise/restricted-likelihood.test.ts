import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { fromLogs, type NoiseParameters, toLogs } from "../../../src/core/noise/noise-parameters.js";
import { fitNoise, restrictedObjective, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { denseCovariance, generalizedLeastSquares } from "../../oracles/dense-noise.js";
import { noises, readingCounts, residualsV, timesS } from "./readings.js";

const line = timesS.map((t) => (t - 15) / 12);
const step = timesS.map((t) => (t > 6 && t < 9 ? -1 : 0));
const explaining = [new Float64Array(timesS.length).fill(1), line, step];

function explained(y: Float64Array, shown = { timesS, readingCounts }, columns = explaining) {
  const all = [...columns, y];
  const n = shown.timesS.length;
  return {
    sampled: shown,
    columns: Float64Array.from({ length: n * all.length }, (_, k) => all[k % all.length]![Math.floor(k / all.length)]!),
    columnCount: all.length,
  };
}

/** So wide that it adds nothing worth a millionth. */
const noPrior = { meanLogs: new Float64Array(5), sdLogs: new Float64Array(5).fill(1e6) };

/** Restricted likelihood by the textbook: `(ln|V| + ln|X' V^-1 X| + r' V^-1 r) / 2` (Patterson & Thompson 1971, from memory). */
function denseObjective(noise: NoiseParameters): number {
  const fit = generalizedLeastSquares(
    denseCovariance(timesS, readingCounts, noise),
    explaining.map((column) => Array.from(column)),
    residualsV,
  );
  return 0.5 * (fit.logDeterminant + fit.logInformation + fit.residualSquares);
}

describe("restrictedObjective()", () => {
  it("is the dense restricted likelihood", () => {
    for (const [name, noise] of noises) {
      const found = restrictedObjective(explained(residualsV), toLogs(noise), noPrior);
      expect(Math.abs(found - denseObjective(noise)), name).toBeLessThan(1e-4);
    }
  });

  it("adds half the squared distance from the prior in its standard deviations", () => {
    const noise = noises[4]![1];
    const logs = toLogs(noise);
    const prior = { meanLogs: logs.map((value) => value - 1), sdLogs: Float64Array.of(0.5, 1, 2, 4, 8) };
    const plain = restrictedObjective(explained(residualsV), logs, noPrior);
    const held = restrictedObjective(explained(residualsV), logs, prior);
    expect(held - plain).toBeCloseTo(0.5 * (4 + 1 + 1 / 4 + 1 / 16 + 1 / 64), 5);
  });

  it("does not hang on the explained part: readings plus a line and a dip give the same value", () => {
    const logs = toLogs(noises[4]![1]);
    const moved = residualsV.map((v, i) => v + 24 - 3 * line[i]! + 0.7 * step[i]!);
    const here = restrictedObjective(explained(residualsV), logs, noPrior);
    expect(Math.abs(restrictedObjective(explained(moved), logs, noPrior) - here)).toBeLessThan(1e-4);
  });
});

describe("fitNoise()", () => {
  const n = 500;
  const shown = {
    timesS: Float64Array.from({ length: n }, (_, i) => 0.1 * i),
    readingCounts: new Float64Array(n).fill(1),
  };
  const columns = [new Float64Array(n).fill(1), shown.timesS.map((t) => t / 25 - 1)];
  const truth: NoiseParameters = {
    whiteV: 0.02,
    colouredV: 0.03,
    colouredTimeS: 0.6,
    walkVPerSqrtS: 0,
    bendVPerS15: 0,
  };

  function drawn(seed: number, gain = 1): Float64Array {
    const random = randomSource(seed);
    const decay = Math.exp(-0.1 / truth.colouredTimeS);
    let colouredV = truth.colouredV * random.normal();
    return shown.timesS.map(() => {
      colouredV = decay * colouredV + Math.sqrt(1 - decay * decay) * truth.colouredV * random.normal();
      return gain * (colouredV + truth.whiteV * random.normal());
    });
  }

  it("recovers white and coloured noise within their statistical scatter over many recordings", () => {
    // Unbiased within the priors' pull: mean of 24 fits within 4 standard errors (own scatter) and 10 % of the truth.
    const fits = Array.from({ length: 24 }, (_, k) => {
      const readings = explained(drawn(k + 1), shown, columns);
      return fitNoise(readings, weakNoisePrior(0.02, 0.1)).noise;
    });
    for (const [name, value, expected] of [
      ["white", (one: NoiseParameters) => Math.log(one.whiteV), Math.log(truth.whiteV)],
      ["coloured", (one: NoiseParameters) => Math.log(one.colouredV), Math.log(truth.colouredV)],
    ] as const) {
      const logs = fits.map(value);
      const mean = logs.reduce((sum, one) => sum + one, 0) / logs.length;
      const sd = Math.sqrt(logs.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (logs.length - 1));
      expect(Math.abs(mean - expected), name).toBeLessThan((4 * sd) / Math.sqrt(logs.length) + 0.1);
      // 500 readings hold about 50 correlation times: a standard deviation is known to some 10 %, never to 35 %.
      expect(sd, name).toBeLessThan(0.35);
      expect(sd, name).toBeGreaterThan(0.01);
    }
  });

  it("ends where no parameter can be moved to a better place", () => {
    const readings = explained(drawn(5), shown, columns);
    const prior = weakNoisePrior(0.02, 0.1);
    const fit = fitNoise(readings, prior);
    for (let k = 0; k < 5; k++) {
      for (const h of [0.3, -0.3]) {
        const moved = Float64Array.from(fit.logs);
        moved[k]! += h;
        // It stops at a gain below 1e-3.
        expect(restrictedObjective(readings, moved, prior), `parameter ${k} by ${h}`).toBeGreaterThan(
          fit.objective - 5e-3,
        );
      }
    }
  });

  it("scales with the readings: thrice the volts, thrice the noise, the same time constant", () => {
    const one = fitNoise(explained(drawn(7), shown, columns), weakNoisePrior(0.02, 0.1)).noise;
    const three = fitNoise(explained(drawn(7, 3), shown, columns), weakNoisePrior(0.06, 0.1)).noise;
    // The search stops at a gain of 1e-3 of a logarithm: 0.04 of a standard deviation of each parameter.
    expect(Math.abs(three.whiteV / one.whiteV / 3 - 1)).toBeLessThan(0.02);
    expect(Math.abs(three.colouredV / one.colouredV / 3 - 1)).toBeLessThan(0.03);
    expect(Math.abs(three.colouredTimeS / one.colouredTimeS - 1)).toBeLessThan(0.05);
  });

  it("fromLogs() undoes toLogs()", () => {
    const { walkVPerSqrtS, ...rest } = fromLogs(toLogs(noises[4]![1]));
    expect(walkVPerSqrtS).toBeCloseTo(0.006, 12);
    expect(rest.colouredTimeS).toBeCloseTo(0.6, 12);
  });
});
