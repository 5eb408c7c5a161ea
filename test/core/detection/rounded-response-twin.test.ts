import { describe, expect, it } from "vitest";
import { type RoundedProblem, roundedResponse } from "../../../src/core/detection/rounded-response.js";
import { dipTemplate } from "../../../src/core/detection/switching-template.js";
import { fromLogs, type NoiseParameters } from "../../../src/core/noise/noise-parameters.js";
import { nodesOf } from "../../../src/core/noise/posterior-nodes.js";
import { likeliestNoise, priorPenalty, weakNoisePrior } from "../../../src/core/noise/restricted-likelihood.js";
import { roundedLogLikelihood } from "../../../src/core/noise/rounded-likelihood.js";
import { mixtureMoments } from "../../../src/core/statistics/normal-mixture.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const stepV = 0.1;
const timesS = Float64Array.from({ length: 160 }, (_, i) => i * 0.4);
const shape = { shiftS: 0, lagS: 0.3, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };
const on = [20, 40].map((onsetS) => ({ onsetS, releaseS: onsetS + 8 }));
const template = dipTemplate(timesS, 0, on, shape);
const settling = dipTemplate(timesS, 0, on, { ...shape, inrush: 1 });
const slow = dipTemplate(timesS, 0, on, { ...shape, lagS: 1.2 });
const elsewhere = dipTemplate(timesS, 0, [{ onsetS: 5, releaseS: 10 }], shape);

function problemOf(depthV: number, sigmaV: number, changed: Partial<RoundedProblem> = {}, seed = 6): RoundedProblem {
  const random = randomGenerator(seed);
  const shownV = timesS.map(
    (_, i) => Math.round((0.03 + depthV * template[i]! + sigmaV * random.normal()) / stepV) * stepV,
  );
  return {
    readings: {
      sampled: { timesS, readingCounts: new Float64Array(timesS.length).fill(1) },
      shownV,
      stepV,
      othersV: new Float64Array(timesS.length),
    },
    likeliest: template,
    depthShapes: [{ template, weight: 1 }],
    uShapeV: 0,
    members: [template, settling, elsewhere],
    startV: depthV,
    startUV: 0.02,
    ownNoiseV: 0.6 * sigmaV,
    intervalS: 0.4,
    ...changed,
  };
}

/** Highest point of the likelihood over the depth by halving the mesh, and the width that its curvature tells. */
function top({ readings, startV }: RoundedProblem, shapeOf: Float64Array, noise: NoiseParameters) {
  const at = (depthV: number) => roundedLogLikelihood(readings, shapeOf, depthV, noise);
  let depthV = startV;
  for (let meshV = 0.02; meshV > 1e-7; meshV /= 2) {
    for (let moved = true; moved; ) {
      moved = false;
      for (const next of [depthV - meshV, depthV + meshV]) {
        if (at(next) > at(depthV)) {
          depthV = next;
          moved = true;
        }
      }
    }
  }
  const h = 1e-3;
  const uV = h / Math.sqrt(2 * at(depthV) - at(depthV - h) - at(depthV + h));
  return { depthV, height: at(depthV), uV };
}

/** Probability of a digit and its change with the level, by Simpson's rule over the normal density. */
function digitInformation(place: number, sd: number): number {
  const density = (x: number) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI);
  const mass = (level: number, digit: number) => {
    const [low, high] = [(digit - 0.5 - level) / sd, (digit + 0.5 - level) / sd];
    const n = 400;
    let sum = density(low) + density(high);
    for (let k = 1; k < n; k++) sum += (k % 2 === 0 ? 2 : 4) * density(low + ((high - low) * k) / n);
    return ((high - low) / n / 3) * sum;
  };
  let information = 0;
  for (let digit = -6; digit <= 6; digit++) {
    const change = (mass(place + 1e-4, digit) - mass(place - 1e-4, digit)) / 2e-4;
    if (mass(place, digit) > 1e-10) information += change ** 2 / mass(place, digit);
  }
  return information;
}

/** Depth and noise in turn until they stay, with what the readings leave open of the noise. */
function noiseByHand(problem: RoundedProblem) {
  const prior = weakNoisePrior(Math.max(problem.ownNoiseV, 0.2 * stepV), problem.intervalS);
  const objective = (depthV: number) => (logs: Float64Array) =>
    priorPenalty(logs, prior) - roundedLogLikelihood(problem.readings, problem.likeliest, depthV, fromLogs(logs));
  let { depthV } = top(problem, problem.likeliest, fromLogs(prior.meanLogs));
  let fit = likeliestNoise(objective(depthV), prior.meanLogs);
  for (let round = 0; round < 4; round++) {
    ({ depthV } = top(problem, problem.likeliest, fit.noise));
    fit = likeliestNoise(objective(depthV), fit.logs);
  }
  const nodes = nodesOf(objective(depthV), prior, fit);
  const moments = (values: readonly number[]) => {
    const mean = values.reduce((sum, value, k) => sum + nodes[k]!.weight * value, 0);
    return { mean, sd: Math.sqrt(values.reduce((sum, value, k) => sum + nodes[k]!.weight * (value - mean) ** 2, 0)) };
  };
  const noiseLogs = moments(nodes.map(({ noise }) => Math.log(Math.hypot(noise.whiteV, noise.colouredV))));
  return { fit, nodes, moments, surelyV: Math.exp(noiseLogs.mean - 1.645 * noiseLogs.sd) };
}

/** The same by plain search, every quantity as it is defined. */
function byHand(problem: RoundedProblem) {
  const { fit, nodes, moments } = noiseByHand(problem);
  const tops = nodes.map(({ noise }) => top(problem, problem.likeliest, noise));
  const scale = moments(tops.map(({ uV }) => Math.log(uV)));
  const voltsPerScore = Math.hypot(Math.exp(scale.mean), moments(tops.map((one) => one.depthV)).sd);
  const scores = problem.members.map((member) => {
    const { depthV: memberV, height } = top(problem, member, fit.noise);
    const without = roundedLogLikelihood(problem.readings, member, 0, fit.noise);
    return (Math.sign(memberV) * Math.sqrt(2 * (height - without)) * tops[0]!.uV) / voltsPerScore;
  });
  // Every shape at its own weight, the likeliest over all nodes, by the sum over a fine mesh.
  let [mass, first, second] = [0, 0, 0];
  problem.depthShapes.forEach((each, j) => {
    for (const { noise, weight } of j === 0 ? nodes : [{ ...nodes[0]!, weight: 1 }]) {
      const peaked = top(problem, each.template, noise);
      const mesh = Array.from({ length: 241 }, (_, k) => peaked.depthV + ((k - 120) / 20) * peaked.uV);
      const heights = mesh.map((v) =>
        Math.exp(roundedLogLikelihood(problem.readings, each.template, v, noise) - peaked.height),
      );
      const sum = heights.reduce((a, b) => a + b, 0);
      mesh.forEach((v, k) => {
        const share = (each.weight * weight * heights[k]!) / sum;
        mass += share;
        first += share * v;
        second += share * v * v;
      });
    }
  });
  const mean = first / mass;
  // The mesh of 33 points is blurred by half of its spacing: it reaches over five uncertainties of every node, at the most
  // over fifteen of the first and a digit.
  const widest = Math.max(...tops.map((one) => Math.abs(one.depthV - tops[0]!.depthV) + 5 * one.uV));
  const spacingV = (2 * Math.min(widest, 15 * tops[0]!.uV + stepV)) / 32;
  const sigma = Math.hypot(fit.noise.whiteV, fit.noise.colouredV) / stepV;
  const growth = 1 / 3 + ((2 / 3) * digitInformation(0.5, sigma)) / digitInformation(0, sigma);
  return {
    voltsPerScore,
    scaleSd: scale.sd,
    scores,
    mean,
    // Moment matching is allowed three tenths of a standard uncertainty, the fitted shape what it adds.
    sd: Math.hypot(Math.sqrt(second / mass - mean * mean), problem.uShapeV, 0.3 * tops[0]!.uV, spacingV / 2),
    worstGrowth: Math.sqrt(Math.max(1, growth)),
  };
}

describe("roundedResponse()", () => {
  it.each([
    ["noise of four tenths of a step", problemOf(0.07, 0.04)],
    ["noise of a quarter of a step", problemOf(0.05, 0.025), true],
    ["a rise", problemOf(-0.07, 0.04)],
    ["no dip", problemOf(0, 0.035)],
    ["a start that is far off", problemOf(0.07, 0.04, { startV: 0.13, startUV: 0.03 })],
    ["a fitted shape that is uncertain", problemOf(0.07, 0.04, { uShapeV: 0.02 })],
    [
      "three shapes",
      problemOf(0.09, 0.04, {
        depthShapes: [
          { template, weight: 0.5 },
          { template: settling, weight: 0.4 },
          { template: slow, weight: 0.2 },
        ],
      }),
    ],
  ])("agrees with a plain search for the top of the likelihood: %s", (_, problem, faint = false) => {
    const [found, hand] = [roundedResponse(problem)!, byHand(problem)];
    const { mean, sd } = mixtureMoments(found.depth);
    // Where the noise is faint the search for it ends a little earlier.
    const allowed = faint ? 0.06 : 1e-3;
    expect(Math.abs(found.voltsPerScore / hand.voltsPerScore - 1)).toBeLessThan(allowed);
    expect(Math.abs(found.scaleSd - hand.scaleSd)).toBeLessThan(allowed / 10);
    expect(Math.abs(mean - hand.mean) / hand.sd).toBeLessThan(allowed);
    expect(Math.abs(sd / hand.sd - 1)).toBeLessThan(allowed);
    expect(Math.abs(found.worstGrowth / hand.worstGrowth - 1)).toBeLessThan(allowed);
    hand.scores.forEach((score, k) => {
      expect(Math.abs(found.scores[k]! - score), `shape ${k}`).toBeLessThan(allowed);
    });
  });

  it("does not judge unless the noise surely exceeds 0.15 of a step: 1.645 standard deviations of its logarithm", () => {
    const judged = [false, false];
    for (let seed = 11; seed <= 18; seed++) {
      const problem = problemOf(0.07, (0.06 + 0.003 * seed) * stepV, {}, seed);
      const surely = noiseByHand(problem).surelyV / stepV;
      // The search for so faint a noise ends a few percent off.
      if (Math.abs(surely - 0.15) < 0.01) continue;
      judged[Number(surely > 0.15)] = true;
      expect(roundedResponse(problem) !== null, `seed ${seed}: ${surely} steps`).toBe(surely > 0.15);
    }
    expect(judged).toEqual([true, true]);
  });

  it.each([8, 12, 40, 160])(
    "never judges %d digits that are all the same, whatever noise they are told to have",
    (count) => {
      const { readings, ...problem } = problemOf(0, 0, { startV: 0.03 });
      const first = timesS.slice(0, count);
      const middle = [{ onsetS: first[Math.floor(count / 3)]!, releaseS: first[Math.floor((2 * count) / 3)]! }];
      const dip = dipTemplate(first, 0, middle, shape);
      const still = {
        ...readings,
        sampled: { timesS: first, readingCounts: new Float64Array(count).fill(1) },
        shownV: new Float64Array(count).fill(0.1),
        othersV: new Float64Array(count),
      };
      for (const ownNoiseV of [0, 0.3 * stepV, 0.6 * stepV]) {
        const told = { ...problem, readings: still, likeliest: dip, members: [dip], ownNoiseV };
        expect(roundedResponse({ ...told, depthShapes: [{ template: dip, weight: 1 }] })).toBeNull();
      }
    },
  );
});
