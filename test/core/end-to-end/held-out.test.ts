import { describe, expect, it } from "vitest";
import { analyze, type LoadAnswer } from "../../../src/core/index.js";
import { type Condition, conditions, DEPTH_V, heldOut, heldOutProfile } from "./held-out.js";

const SEEDS = [101, 102, 103];

function answerTo(condition: Condition, depthV: number, seed: number): LoadAnswer {
  const { recording, marks } = heldOut(condition, depthV, seed);
  return analyze(recording, { marks, profile: heldOutProfile }).loads[0]!;
}

describe("analyze() of marked switchings", () => {
  it.each(conditions)("$name: a dip of 120 mV responded, and its depth lies within its uncertainty", (condition) => {
    for (const seed of SEEDS) {
      const answer = answerTo(condition, DEPTH_V, seed);
      expect(answer.verdict, `seed ${seed}`).toBe("responded");
      // Four standard uncertainties: for 21 recordings together a chance of about one in a thousand to be outside.
      expect(Math.abs(answer.depth!.value - DEPTH_V), `seed ${seed}`).toBeLessThan(4 * answer.depth!.u);
      // And the uncertainty is of some use: a third of the dip at the worst.
      expect(answer.depth!.u, `seed ${seed}`).toBeLessThan(DEPTH_V / 3);
    }
  });

  it("a load that draws nothing gets no response, but for false alarms at the stated rate", () => {
    const wrong: string[] = [];
    for (const condition of conditions) {
      for (const seed of SEEDS) {
        const { verdict } = answerTo(condition, 0, seed);
        if (verdict === "responded") wrong.push(`${condition.name}, seed ${seed}`);
        else expect(verdict, `${condition.name}, seed ${seed}`).toBe("no response");
      }
    }
    // 21 recordings at 1 %: more than two false alarms have a chance of about one in a thousand.
    expect(wrong.length, wrong.join("; ")).toBeLessThanOrEqual(2);
  });

  it("a recording too noisy to tell gets undecided, with a dip and without", () => {
    const noisy = { ...conditions[0]!, sigmaV: 0.8, ar1: 0.8 };
    for (const seed of SEEDS) {
      for (const depthV of [DEPTH_V, 0]) {
        expect(answerTo(noisy, depthV, seed).verdict, `${depthV} V, seed ${seed}`).toBe("undecided");
      }
    }
  });
});

describe("analyze() of switchings that nobody noted", () => {
  // One recording each of three conditions: at 1 % a chance of 3 % that an honest detector fails one of the nulls.
  it.each(conditions.slice(0, 3))("$name: three dips of 120 mV are found, and nothing where there are none", (one) => {
    const dip = heldOut(one, DEPTH_V, SEEDS[0]!);
    const found = analyze(dip.recording, { profile: heldOutProfile });
    expect(found.detection.mode).toBe("searched");
    expect(found.loads[0]!.verdict).toBe("responded");
    const { value, u } = found.loads[0]!.depth!;
    expect(Math.abs(value - DEPTH_V)).toBeLessThan(4 * u);
    const onsetsS = dip.marks.filter((mark) => mark.action === "on").map((mark) => mark.timeS);
    expect(found.dips.length).toBe(onsetsS.length);
    // Marks are right within 0.1 s, and an onset at six and more standard uncertainties of depth within a second.
    found.dips.forEach((each, index) => {
      expect(Math.abs(each.onsetS - onsetsS[index]!)).toBeLessThan(1);
    });

    const none = heldOut(one, 0, SEEDS[0]!);
    expect(analyze(none.recording, { profile: heldOutProfile }).loads[0]!.verdict).not.toBe("responded");
  });
});
