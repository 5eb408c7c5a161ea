import { describe, expect, it } from "vitest";
import { STRAY_CELLS, strayTrial } from "../../bench/stray-release-trial.js";

const white = STRAY_CELLS.find(({ name }) => name === "white")!;
const SEEDS = [1, 2, 3, 4, 5, 6];

/** Warning and answer of the seeds' checks. */
const told = (fate: Parameters<typeof strayTrial>[1]) =>
  SEEDS.map((seed) => {
    const { analysis, strayS, depthV } = strayTrial(white, fate, seed);
    const warning = analysis.warnings.find(({ code }) => code === "stray-release");
    return {
      warning: warning?.code === "stray-release" ? warning : null,
      answer: analysis.loads[0]!,
      strayS,
      depthV,
      dips: analysis.dips,
    };
  });

// The bench (npm run bench:releases) tells 87 % of the trips at this noise: fewer than 3 of 6 has a chance of 0.003.
describe("analyze() of a load whose voltage comes back beside its mark", () => {
  it("says when a load fell off in one switching of three, and takes its depth from the time it held", () => {
    const found = told("trips, is set again").filter(({ warning }) => warning !== null);
    expect(found.length).toBeGreaterThanOrEqual(3);
    for (const { warning, answer, strayS, depthV, dips } of found) {
      expect(answer.verdict).toBe("responded");
      expect(Math.abs(warning!.seenS! - strayS!)).toBeLessThan(0.6);
      expect(warning!.lasting).toBe(false);
      // Four standard uncertainties: 1 in 16,000.
      expect(Math.abs(answer.depth!.value - depthV)).toBeLessThan(4 * answer.depth!.u);
      expect(dips.map(({ releaseS }) => releaseS).some((s) => Math.abs(s - strayS!) < 0.6)).toBe(true);
    }
  }, 300_000);

  it("never says responded for a load that fell off and stayed off, and says when it fell", () => {
    const checks = told("trips for good");
    expect(checks.filter(({ answer }) => answer.verdict === "responded" && answer.depth!.high < 0.1)).toEqual([]);
    const found = checks.filter(({ warning }) => warning !== null);
    expect(found.length).toBeGreaterThanOrEqual(3);
    for (const { warning, answer } of found) {
      expect(warning!.lasting).toBe(true);
      expect([answer.verdict, answer.because]).toEqual(["undecided", "not-as-marked"]);
    }
  }, 300_000);

  // The rate of false ones is held at 1 in 200 recordings by the bound and is far below it in the bench.
  it("says nothing where all went as marked, or nothing answered", () => {
    for (const fate of ["as marked", "dead"] as const) {
      expect(told(fate).filter(({ warning }) => warning !== null).length, fate).toBeLessThanOrEqual(1);
    }
  }, 300_000);
});
