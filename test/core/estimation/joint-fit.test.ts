import { describe, expect, it } from "vitest";
import { type JointFitInput, jointFit } from "../../../src/core/estimation/joint-fit.js";
import { currentByReference } from "../../../src/core/estimation/load-current.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const uV = 0.004;
const diagonal = (count: number, variance: number, common = 0) =>
  Float64Array.from({ length: count * count }, (_, k) => common + (k % (count + 1) === 0 ? variance : 0));

function known(input: JointFitInput) {
  const answer = jointFit(input);
  if (!answer.known) throw new Error(answer.reason);
  return answer;
}

describe("jointFit()", () => {
  it("with one reference and one other load is the plain ratio with its first-order uncertainty", () => {
    const joint = known({
      depths: [
        { load: "light", valueV: 0.18 },
        { load: "probe", valueV: 0.12 },
      ],
      covarianceV2: diagonal(2, uV ** 2),
      currents: [{ load: "light", currentA: { value: 9, u: 0.2 } }],
    });
    const ratio = currentByReference(
      {
        depth: { value: 0.12, u: uV },
        referenceDepth: { value: 0.18, u: uV },
        referenceCurrentA: { value: 9, u: 0.2 },
      },
      { coverage: 0.95 },
    );
    const probe = joint.currents[1].currentA;
    expect(ratio.known && Math.abs(probe.value / ratio.currentA - 1)).toBeLessThan(1e-9);
    expect(ratio.known && Math.abs(probe.u / ratio.uA - 1)).toBeLessThan(1e-6);
    expect(joint.resistanceOhm.value).toBeCloseTo(0.02, 9);
    expect(joint.dof).toBe(0);
  });

  it("covers resistance and currents in 95 % of 1000 draws, and its chi-square has the mean of its dof", () => {
    const random = randomGenerator(21);
    const loads = ["light", "light", "light", "probe A", "probe A", "probe B", "probe B"];
    const truth: Record<string, number> = { light: 9, "probe A": 5.6, "probe B": 6.1 };
    const covered = [0, 0, 0];
    let chiSquare = 0;
    let dof = 0;
    for (let k = 0; k < 1000; k++) {
      const common = 0.002 * random.normal();
      const joint = known({
        depths: loads.map((load) => ({ load, valueV: 0.02 * truth[load] + uV * random.normal() + common })),
        covarianceV2: diagonal(7, uV ** 2, 0.002 ** 2),
        currents: [{ load: "light", currentA: { value: 9 + 0.3 * random.normal(), u: 0.3 } }],
        resistanceOhm: { value: 0.02 + 0.001 * random.normal(), u: 0.001 },
      });
      const errors = [
        (joint.resistanceOhm.value - 0.02) / joint.resistanceOhm.u,
        (joint.currents[1].currentA.value - 5.6) / joint.currents[1].currentA.u,
        (joint.currents[2].currentA.value - 6.1) / joint.currents[2].currentA.u,
      ];
      errors.forEach((error, j) => {
        if (Math.abs(error) < 1.96) covered[j] += 1 / 1000;
      });
      chiSquare += joint.chiSquare / 1000;
      dof = joint.dof;
    }
    for (const share of covered) {
      expect(share).toBeGreaterThan(0.93);
      expect(share).toBeLessThan(0.97);
    }
    expect(dof).toBe(5);
    // Standard error of the mean chi-square: sqrt(10 / 1000) = 0.1.
    expect(Math.abs(chiSquare - 5)).toBeLessThan(0.4);
  });

  it("currents that rest on the same uncertain resistance are strongly correlated", () => {
    const joint = known({
      depths: [
        { load: "probe A", valueV: 0.2 },
        { load: "probe B", valueV: 0.22 },
      ],
      covarianceV2: diagonal(2, 1e-8),
      currents: [],
      resistanceOhm: { value: 0.02, u: 0.002 },
    });
    expect(joint.correlation[5]).toBeGreaterThan(0.99);
    expect(joint.correlation[1]).toBeLessThan(-0.99);
  });

  it("refuses voltage alone: neither resistance nor current can be told from depths", () => {
    const depths = [
      { load: "probe A", valueV: 0.2 },
      { load: "probe B", valueV: 0.22 },
    ];
    expect(jointFit({ depths, covarianceV2: diagonal(2, 1e-6), currents: [] })).toEqual({
      known: false,
      reason: "no-current-reference",
    });
  });

  it("refuses a reference that is lost in the noise", () => {
    const answer = jointFit({
      depths: [
        { load: "light", valueV: 0.01 },
        { load: "probe", valueV: 0.012 },
      ],
      covarianceV2: diagonal(2, 0.004 ** 2),
      currents: [{ load: "light", currentA: { value: 9, u: 0.1 } }],
    });
    expect(answer).toEqual({ known: false, reason: "reference-too-weak" });
  });

  it("refuses a covariance of another size", () => {
    const depths = [{ load: "light", valueV: 0.2 }];
    const currents = [{ load: "light", currentA: { value: 9, u: 0.1 } }];
    expect(() => jointFit({ depths, covarianceV2: diagonal(2, 1), currents })).toThrow(
      "Cannot fit jointly: the covariance of 1 depths must be a positive definite 1 x 1 matrix",
    );
  });
});
