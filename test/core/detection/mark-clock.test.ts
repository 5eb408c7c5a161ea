import { describe, expect, it } from "vitest";
import {
  type BusProfile,
  markClock,
  planCheck,
  type Recording,
  type SwitchingMark,
  statedReadings,
} from "../../../src/core/index.js";
import { dipTrain } from "../../bench/dip-shape.js";
import { drawNoise, NO_NOISE } from "../../bench/noise.js";
import { randomStream } from "../../bench/random.js";

const profile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0125, u: 0.0004 } },
  pathResistanceOhm: { value: 0, u: 0 },
  meter: { smallestDivisionV: 1, lagS: 0.25 },
  loads: [
    { id: "a", kind: "heater", acceptA: [4, 8], reference: false },
    { id: "b", kind: "resistive", acceptA: [3, 6], reference: false },
    { id: "c", kind: "heater", acceptA: [5, 9], reference: false },
  ],
};
const { marks } = planCheck(profile, { readings: statedReadings(0.03, undefined) });

/** A check as planned, its recording begun `lateS` seconds after the plan's clock; the depths of a, b and c in volts. */
function recorded(lateS: number, depthsV: Record<string, number>, seed: number): Recording {
  const random = randomStream(seed, "mark clock");
  const endS = marks[marks.length - 1]!.timeS + 30 - lateS;
  const timesS = Float64Array.from({ length: Math.floor(10 * endS) }, (_, i) => i / 10);
  const noiseV = drawNoise({ ...NO_NOISE, whiteV: 0.02, colouredV: 0.02, walkVPerRtS: 0.004 }, timesS, null, random);
  const voltagesV = noiseV.map((v) => 24.5 + v);
  for (const [load, depthV] of Object.entries(depthsV)) {
    const shape = {
      inrush: 0.4,
      settleS: 3,
      polarization: 0.3,
      polarizationTimeS: 20,
      lagS: 0.25,
      lagOrder: 1,
    } as const;
    const own = marks.filter((mark) => mark.load === load);
    const moved = (mark: SwitchingMark) => mark.timeS - lateS + 0.2 * random.normal();
    const times = own.flatMap((mark, i) => (i % 2 === 0 ? [{ onS: moved(mark), offS: moved(own[i + 1]!) }] : []));
    const fall = dipTrain(shape, times, timesS);
    for (let i = 0; i < timesS.length; i++) voltagesV[i]! -= depthV * fall[i]!;
  }
  return { timesS, voltagesV };
}

// Twenty edges or so, each 0.2 s off its mark, leave the clock about 0.05 s; a tenth of a second is the step of the search.
describe("markClock()", () => {
  it.each([-40, -7.3, 0, 25])("finds by how many seconds (%d) the recording began after the plan's clock", (lateS) => {
    const found = markClock(recorded(lateS, { a: 0.08, b: 0.06, c: 0.09 }, 1), marks, profile);
    if (!found.known) throw new Error(found.why);
    expect(Math.abs(found.laterS + lateS)).toBeLessThan(0.4);
  });

  it("says that nothing answers where no load draws current", () => {
    for (let seed = 1; seed <= 4; seed++) {
      expect(markClock(recorded(12, {}, seed), marks, profile)).toEqual({ known: false, why: "nothing-answers" });
    }
  });

  it("never sets the clock by a load whose beat fits that of another", () => {
    // One load alone: its beat may be any one's of the same beat.
    const beat = (load: string) => {
      const own = marks.filter((mark) => mark.load === load).map(({ timeS }) => timeS);
      return own.map((timeS) => timeS - own[0]!).join();
    };
    const same = ["a", "c"].every((load) => beat(load) === beat("a"));
    expect(same).toBe(true);
    for (let seed = 1; seed <= 3; seed++) {
      expect(markClock(recorded(12, { c: 0.1 }, seed), marks, profile)).toEqual({ known: false, why: "several-fit" });
    }
  });
});
