import { describe, expect, it } from "vitest";
import { cautionsFor } from "../../src/core/cautions.js";
import type { BusProfile } from "../../src/core/profile.js";
import { recordingFacts } from "../../src/core/recording-facts.js";

const recording = (
  count: number,
  volts: (i: number) => number = (i) => 24 + 0.001 * ((i * 7919) % 97),
  timeS = (i: number) => i / 4,
) => {
  const timesS = Float64Array.from({ length: count }, (_, i) => timeS(i));
  return { timesS, voltagesV: timesS.map((_, i) => volts(i)) };
};
const codes = (...args: Parameters<typeof recording>) =>
  recordingFacts(recording(...args), null).warnings.map(({ code }) => code);
const leadAcid: BusProfile = { battery: { chemistry: "lead-acid", cells: 6 }, loads: [] };

describe("recordingFacts()", () => {
  it("sums a recording up", () => {
    const { summary, frozen, regulatedAboveV, meterEndV, frictionUntold } = recordingFacts(recording(100), null);
    expect(summary).toEqual({
      sampleCount: 100,
      durationS: 24.75,
      sampleRateHz: 4,
      gaps: [],
      lowestV: 24,
      highestV: 24.096,
    });
    expect({ frozen, regulatedAboveV, meterEndV, frictionUntold }).toEqual({
      frozen: false,
      regulatedAboveV: null,
      meterEndV: null,
      frictionUntold: false,
    });
    expect(
      recordingFacts(
        recording(
          60,
          () => 24,
          () => 5,
        ),
        null,
      ),
    ).toMatchObject({ frozen: true, summary: { sampleRateHz: 0 } });
  });

  it("warns of fewer than fifty readings", () => {
    expect(codes(49)).toEqual(["few-readings"]);
    expect(codes(50)).toEqual([]);
  });

  it("warns of up to three gaps one by one, of more by number and time", () => {
    const gapped = (gaps: number) =>
      recordingFacts(
        recording(200, undefined, (i) => i / 4 + 10 * Math.min(gaps, Math.floor(i / 20))),
        null,
      );
    expect(gapped(3).warnings.map(({ code }) => code)).toEqual(["gap", "gap", "gap"]);
    expect(gapped(1).warnings).toEqual([{ code: "gap", startS: 4.75, endS: 15 }]);
    expect(gapped(4).warnings).toEqual([{ code: "gaps", gapCount: 4, totalS: 41 }]);
    expect(gapped(4).summary.gaps).toHaveLength(4);
  });

  it("takes a mean above 26.5 V and below 30 V for a regulated 24 V bus where no chemistry is told", () => {
    const limit = (meanV: number, profile: BusProfile | null = null) =>
      recordingFacts(
        recording(100, (i) => meanV + 0.01 * ((i % 3) - 1)),
        profile,
      ).regulatedAboveV;
    expect(limit(26.4)).toBeNull();
    expect(limit(26.6)).toBe(26.5);
    expect(limit(29.9)).toBe(26.5);
    expect(limit(30.1)).toBeNull();
    // Six cells of lead-acid: 13.25 V.
    expect(limit(13.2, leadAcid)).toBeNull();
    expect(limit(13.3, leadAcid)).toBeCloseTo(13.25, 12);
    expect(limit(28, { battery: { chemistry: "ni-cd", cells: 20 }, loads: [] })).toBeNull();
    expect(limit(28, { battery: { chemistry: "lead-acid" }, loads: [] })).toBeNull();
    expect(limit(28, { battery: { cells: 12 }, loads: [] })).toBe(26.5);
    const { warnings } = recordingFacts(
      recording(100, (i) => 28 + 0.01 * ((i % 3) - 1)),
      null,
    );
    expect(warnings).toEqual([{ code: "source-regulated", meanV: expect.closeTo(28, 3), limitV: 26.5 }]);
  });

  it("knows that a filmed needle's friction is not told", () => {
    const filmed = { ...recording(60), readingUncertaintiesV: new Float64Array(60).fill(0.01) };
    expect(recordingFacts(filmed, null).frictionUntold).toBe(true);
    expect(recordingFacts(filmed, { meter: { lagS: 0.3 }, loads: [] }).frictionUntold).toBe(true);
    expect(recordingFacts(filmed, { meter: { frictionV: 0 }, loads: [] }).frictionUntold).toBe(false);
  });

  it("knows the display's step, and where the meter came to its end", () => {
    const coarse = recordingFacts(
      recording(200, (i) => 24 + 0.1 * ((i * 7) % 4)),
      null,
    );
    expect(coarse.displayStepV).toBeCloseTo(0.1, 9);
    expect(coarse.ownNoiseV).toBeGreaterThan(0);
    // Readings of fifteen digits have no step.
    const fine = recordingFacts(
      recording(200, (i) => 24 + 0.01 * Math.sin(i * i)),
      null,
    );
    expect([fine.displayStepV, fine.ownNoiseV]).toEqual([null, 0]);
    const cut = recordingFacts(
      recording(400, (i) => Math.min(24.05, 24 + 0.00117 * ((i * 7919) % 97))),
      null,
    );
    expect(cut.meterEndV).toBe(24.05);
    expect(cut.warnings).toContainEqual({ code: "meter-at-end", atV: 24.05 });
  });

  it("refuses what is no recording, and says which reading", () => {
    expect(() => recordingFacts(recording(1), null)).toThrow("at least 2 readings with a time each are needed, got 1");
    const short = { timesS: Float64Array.of(0, 1, 2), voltagesV: Float64Array.of(24, 24) };
    expect(() => recordingFacts(short, null)).toThrow(RangeError);
    expect(() =>
      recordingFacts(
        recording(5, (i) => (i === 3 ? Number.NaN : 24)),
        null,
      ),
    ).toThrow("reading 3 is not");
    expect(() =>
      recordingFacts(
        recording(5, undefined, (i) => (i === 2 ? Number.NaN : i)),
        null,
      ),
    ).toThrow("reading 2 is not");
    expect(() =>
      recordingFacts(
        recording(5, undefined, (i) => (i === 4 ? 2 : i)),
        null,
      ),
    ).toThrow("they do at reading 4");
    expect(() => recordingFacts(recording(2), null)).not.toThrow();
  });
});

describe("cautionsFor()", () => {
  it("are the same four for every report, and the one of Ni-Cd unless another chemistry is told", () => {
    const four = ["advisory", "hot-probe", "battery-falls", "current-not-heat"];
    expect(cautionsFor(leadAcid)).toEqual(four);
    expect(cautionsFor(null)).toEqual([...four, "ni-cd-temperature"]);
    expect(cautionsFor({ battery: { chemistry: "ni-cd" }, loads: [] })).toEqual([...four, "ni-cd-temperature"]);
  });
});
