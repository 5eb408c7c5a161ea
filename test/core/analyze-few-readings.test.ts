import { describe, expect, it } from "vitest";
import { analyze } from "../../src/core/index.js";
import { randomGenerator } from "../../src/core/statistics/random.js";

describe("analyze() of too few readings to tell a dip's shape", () => {
  it("judges the load beside it all the same", () => {
    for (const [intervalS, onS] of [
      [1, 2],
      [2, 3],
      [2, 4],
    ] as const) {
      for (let seed = 1; seed <= 3; seed++) {
        const random = randomGenerator(seed);
        const times = { a: 15.3, b: 16.3 + onS, c: 40.3 };
        const depthsV = { a: 1, b: 0.1, c: 0.1 };
        const ids = ["a", "b", "c"] as const;
        const timesS = Float64Array.from({ length: 60 / intervalS }, (_, i) => i * intervalS);
        const voltagesV = timesS.map((t) => {
          const dipV = ids.reduce((sum, id) => sum + (t >= times[id] && t < times[id] + onS ? depthsV[id] : 0), 0);
          return 24 + 0.005 * random.normal() - dipV;
        });
        const marks = ids.flatMap((load) => [
          { timeS: times[load], load, action: "on" as const },
          { timeS: times[load] + onS, load, action: "off" as const },
        ]);
        const profile = { loads: ids.map((id) => ({ id, kind: "resistive" as const, reference: false })) };
        const { loads } = analyze({ timesS, voltagesV }, { marks, markUncertaintyS: 0.1, profile, seed });
        for (const { depth, id } of loads) {
          if (depth !== null) expect(depth.low, `${id} every ${intervalS} s`).toBeLessThan(depthsV[id as "a"] + 0.05);
        }
        expect(loads.map(({ id }) => id)).toEqual(["a", "b", "c"]);
      }
    }
  });
});
