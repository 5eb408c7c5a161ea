import { describe, expect, it } from "vitest";
import { controlLimit } from "../../../src/core/trend/control-limit.js";
import { CONTROL_LIMITS } from "../../../src/core/trend/control-limit-table.js";

const SCALES = ["own", "known"] as const;
const CHARTS = ["shewhart", "ewma", "cusum", "level-shift"] as const;
const { rates, baselineFlights, phi, limits } = CONTROL_LIMITS;
const each = SCALES.flatMap((scale) => CHARTS.map((chart) => [scale, chart] as const));

describe("CONTROL_LIMITS", () => {
  it("are for 18 and 2 % of batteries, 10 to 50 flights of baseline and correlations of 0 to 0.6", () => {
    expect(rates).toEqual([0.18, 0.02]);
    expect(baselineFlights).toEqual([10, 15, 20, 30, 50]);
    expect(phi).toEqual([0, 0.15, 0.3, 0.45, 0.6]);
  });

  it.each(each)("%s, %s: the rarer call has the larger limit, of one sort for all cells", (scale, chart) => {
    const [often, seldom] = limits[scale][chart];
    baselineFlights.forEach((_, r) => {
      phi.forEach((__, c) => {
        expect(seldom![r]![c]! / often![r]![c]!).toBeGreaterThan(1.1);
        expect(seldom![r]![c]! / often![r]![c]!).toBeLessThan(chart === "cusum" ? 5 : 2.2);
      });
    });
  });

  // A limit hangs on correlation and baseline smoothly, and 20,000 batteries tell it to about 1 %: the ratio of neighbours
  // in one row is nearly that in the next. Sums of the cusum curve more. A misprint of a tenth shows.
  it.each(each)("%s, %s: neighbouring rows keep the same proportions", (scale, chart) => {
    const most = chart === "cusum" ? 0.08 : 0.04;
    for (const table of limits[scale][chart]) {
      for (let r = 0; r + 1 < table.length; r++) {
        for (let c = 0; c + 1 < phi.length; c++) {
          const ratio = (table[r]![c]! * table[r + 1]![c + 1]!) / (table[r]![c + 1]! * table[r + 1]![c]!);
          expect(Math.abs(Math.log(ratio)), `${r} ${c}`).toBeLessThan(most);
        }
      }
    }
  });
});

describe("CONTROL_LIMITS at 18 %", () => {
  // What controlLimit() takes to be straight between its rows is so in the rows themselves, each known to about 1 %.
  it.each(each)(
    "%s, %s: a row lies where its neighbours draw it, straight in the inverse of the baseline",
    (scale, chart) => {
      const table = limits[scale][chart][0]!;
      for (let r = 1; r + 1 < table.length; r++) {
        const [before, own, after] = [r - 1, r, r + 1].map((row) => 1 / baselineFlights[row]!) as [
          number,
          number,
          number,
        ];
        const share = (before - own) / (before - after);
        phi.forEach((_, c) => {
          const drawn = (1 - share) * table[r - 1]![c]! + share * table[r + 1]![c]!;
          expect(Math.abs(drawn / table[r]![c]! - 1), `${r} ${c}`).toBeLessThan(0.03);
        });
      }
    },
  );
});

describe("controlLimit()", () => {
  const at = (changed: Partial<Parameters<typeof controlLimit>[1]>) =>
    controlLimit("ewma", { phi: 0.15, baselineFlights: 20, sigmaKnown: false, falseCallRate: 0.18, ...changed });
  const [often, seldom] = limits.own.ewma;

  it("is the table's where the table has it, by scale and rate", () => {
    expect(at({})).toBeCloseTo(often![2]![1]!, 12);
    expect(at({ falseCallRate: 0.02 })).toBeCloseTo(seldom![2]![1]!, 12);
    expect(at({ sigmaKnown: true })).toBeCloseTo(limits.known.ewma[0]![2]![1]!, 12);
    expect(at({ phi: 0.6, baselineFlights: 50 })).toBeCloseTo(often![4]![4]!, 12);
    expect(at({ phi: 0, baselineFlights: 10 })).toBeCloseTo(often![0]![0]!, 12);
  });

  it("is straight between correlations, inverse baselines and logarithms of the rate", () => {
    expect(at({ phi: 0.2 })).toBeCloseTo(often![2]![1]! + (often![2]![2]! - often![2]![1]!) / 3, 12);
    // 1/24 is half way from 1/20 to 1/30.
    expect(at({ baselineFlights: 24 })).toBeCloseTo((often![2]![1]! + often![3]![1]!) / 2, 12);
    // 6 % is half way from 18 to 2 % in its logarithm.
    expect(at({ falseCallRate: 0.06 })).toBeCloseTo((often![2]![1]! + seldom![2]![1]!) / 2, 12);
    const corner = at({ phi: 0.2, baselineFlights: 24 });
    const row = (r: number) => often![r]![1]! + (often![r]![2]! - often![r]![1]!) / 3;
    expect(corner).toBeCloseTo((row(2) + row(3)) / 2, 12);
  });

  it("is held at the ends of the table", () => {
    expect(at({ phi: -0.3 })).toBeCloseTo(at({ phi: 0 }), 12);
    expect(at({ phi: 0.9 })).toBeCloseTo(at({ phi: 0.6 }), 12);
    expect(at({ baselineFlights: 5 })).toBeCloseTo(at({ baselineFlights: 10 }), 12);
    expect(at({ baselineFlights: 500 })).toBeCloseTo(at({ baselineFlights: 50 }), 12);
  });
});
