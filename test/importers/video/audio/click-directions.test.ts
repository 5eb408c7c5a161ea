import { describe, expect, it } from "vitest";
import { heardMarks } from "../../../../src/cli/film-marks.js";
import { actionsInTurn, clickDirections } from "../../../../src/importers/video/audio/click-directions.js";
import { normalDeviates } from "../render/random.js";

const SWITCHINGS = [2, 5, 8, 11, 14, 17];

/** Readings at 30 Hz whose voltage falls by a depth at every other switching, with noise of 4 mV. */
function trace(depthV: number, seed = 3) {
  const normal = normalDeviates(seed);
  const timesS = Float64Array.from({ length: 600 }, (_, index) => index / 30);
  const voltagesV = timesS.map(
    (timeS) => 24.6 - (SWITCHINGS.filter((at) => at < timeS).length % 2) * depthV + 0.004 * normal(),
  );
  return { timesS, voltagesV };
}

describe("clickDirections()", () => {
  it("tells on from off where the needle moves, and nothing where it does not", () => {
    expect(clickDirections(SWITCHINGS, trace(0.1))).toEqual(["on", "off", "on", "off", "on", "off"]);
    expect(clickDirections(SWITCHINGS, trace(0))).toEqual(SWITCHINGS.map(() => "unclear"));
  });

  it("tells nothing beside a gap in the readings", () => {
    const { timesS, voltagesV } = trace(0.1);
    const kept = (_: number, index: number) => timesS[index]! < 4 || timesS[index]! > 5.4;
    const holed = { timesS: timesS.filter(kept), voltagesV: voltagesV.filter(kept) };
    expect(clickDirections([5], holed)).toEqual(["unclear"]);
  });
});

describe("actionsInTurn()", () => {
  it("carries what clear clicks say to those between them, from whichever the first one is", () => {
    expect(actionsInTurn(["unclear", "off", "unclear", "off"])).toEqual(["on", "off", "on", "off"]);
    expect(actionsInTurn(["off", "unclear", "off"])).toEqual(["off", "on", "off"]);
    expect(actionsInTurn(["unclear", "unclear"])).toBe("none-clear");
    expect(actionsInTurn(["on", "off", "on", "on"])).toBe("not-in-turn");
  });
});

describe("heardMarks()", () => {
  /** A sound with a click at each time, 30 dB over steady noise. */
  const clipWith = (timesS: readonly number[]) => ({
    sound: async () => {
      const normal = normalDeviates(9);
      const samples = Float32Array.from({ length: 20 * 48_000 }, () => 0.003 * normal());
      for (const timeS of timesS) {
        for (let k = 0; k < 960; k++)
          samples[Math.round(timeS * 48_000) + k]! += 0.1 * Math.exp(-k / 140) * Math.cos(0.41 * k);
      }
      return { sampleRateHz: 48_000, startS: 0, samples };
    },
  });
  const marksOf = async (timesS: readonly number[], depthV: number) =>
    await heardMarks(clipWith(timesS), trace(depthV));

  it("with the first click missed leaves out the off that stands alone, and marks the others rightly", async () => {
    const { marksCsv, sentence } = await marksOf(SWITCHINGS.slice(1), 0.1);
    expect(sentence).toContain("whose on was not heard");
    const rows = marksCsv!.trim().split("\n").slice(2);
    expect(rows.map((row) => [Math.round(Number(row.split(",")[0])), row.split(",")[2]])).toEqual([
      [8, "on"],
      [11, "off"],
      [14, "on"],
      [17, "off"],
    ]);
  });

  it("with a click missed between the others gives no marks and says why", async () => {
    const { marksCsv, sentence } = await marksOf([2, 5, 11, 14, 17], 0.1);
    expect(marksCsv).toBeNull();
    expect(sentence).toContain("one was missed");
  });

  it("without a movement of the needle takes an even number in turn, and an odd number not at all", async () => {
    const even = await marksOf(SWITCHINGS, 0);
    expect(even.marksCsv).toContain("on");
    expect(even.sentence).toContain("which the needle does not tell");
    expect((await marksOf(SWITCHINGS.slice(1), 0)).marksCsv).toBeNull();
  });
});
