import { describe, expect, it } from "vitest";
import { withFriction } from "../../../src/core/detection/display-bias.js";
import { analyze, type BusProfile } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const FRICTION_V = 0.04;

/** A needle that moves only when pulled by more than its friction, read with 3 mV of noise; three switchings. */
function read(seed: number, depthV: number, frictionV = FRICTION_V) {
  const random = randomGenerator(seed);
  let needle = 25 + frictionV * (2 * random.uniform() - 1);
  const timesS = Float64Array.from({ length: 600 }, (_, i) => i / 10);
  const on = [10, 24, 38];
  const voltagesV = timesS.map((t) => {
    const bus = 25 - 0.0005 * t - (on.some((onset) => t >= onset && t < onset + 6) ? depthV : 0);
    needle = Math.max(bus - frictionV, Math.min(bus + frictionV, needle));
    return needle + 0.003 * random.normal();
  });
  const marks = on.flatMap((onset) => [
    { timeS: onset, load: "probe", action: "on" as const },
    { timeS: onset + 6, load: "probe", action: "off" as const },
  ]);
  return { recording: { timesS, voltagesV }, marks };
}

/** A load whose lowest acceptable dip is 0.07 V: 4 A through 17.5 mOhm. */
const profile = (frictionV?: number): BusProfile => ({
  battery: { resistanceOhm: { value: 0.0195, u: 0.001 } },
  pathResistanceOhm: { value: 0, u: 0 },
  meter: frictionV === undefined ? {} : { frictionV },
  loads: [{ id: "probe", kind: "resistive", reference: false, acceptA: [4, 8] }],
});

describe("a needle that sticks", () => {
  it("hides a dip; told of its friction, analyze() does not call that no response", () => {
    for (let seed = 1; seed <= 6; seed++) {
      const { recording, marks } = read(seed, 0.07);
      const told = analyze(recording, { marks, profile: profile(FRICTION_V) }).loads[0]!;
      expect(told.verdict, `seed ${seed}`).toBe("undecided");
      expect(told.minimumDetectableDepthV!).toBeGreaterThan(2 * FRICTION_V);
    }
    // The noise alone would promise far less.
    const { recording, marks } = read(1, 0.07);
    const untold = analyze(recording, { marks, profile: profile() }).loads[0]!;
    expect(untold.minimumDetectableDepthV!).toBeLessThan(0.03);
  });

  it("is filmed, its friction told by nobody: analyze() does not call a missing dip no response", () => {
    for (let seed = 1; seed <= 6; seed++) {
      const { recording, marks } = read(seed, 0.07);
      const filmed = { ...recording, readingUncertaintiesV: recording.timesS.map(() => 0.003) };
      const untold = analyze(filmed, { marks, profile: profile() });
      expect(untold.loads[0]!.verdict, `seed ${seed}`).toBe("undecided");
      expect(untold.assumptions).toContainEqual({ code: "friction-untold" });
    }
    // A free needle, which follows the battery as it discharges.
    const { recording, marks } = read(1, 0, 0);
    const filmed = { ...recording, readingUncertaintiesV: recording.timesS.map(() => 0.003) };
    const answerFor = (frictionV?: number) => analyze(filmed, { marks, profile: profile(frictionV) }).loads[0]!;
    expect(answerFor().because).toBe("friction-untold");
    expect(answerFor(0).verdict).toBe("no response");
  });

  it("shows a larger dip too shallow by up to twice its friction; the interval holds the truth", () => {
    for (let seed = 1; seed <= 6; seed++) {
      const { recording, marks } = read(seed, 0.3);
      const { verdict, depth } = analyze(recording, { marks, profile: profile(FRICTION_V) }).loads[0]!;
      expect(verdict).toBe("responded");
      expect(depth!.low, `seed ${seed}`).toBeLessThan(0.3);
      expect(depth!.high, `seed ${seed}`).toBeGreaterThan(0.3);
    }
  });

  it("adds to the rounding of a display", () => {
    expect(withFriction({ uV: 0.003, mostV: 0.01 }, 0.02)).toEqual({
      uV: Math.hypot(0.003, 0.04 / Math.sqrt(3)),
      mostV: 0.05,
    });
  });
});
