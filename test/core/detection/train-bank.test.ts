import { describe, expect, it } from "vitest";
import { cadenceBank, openBank } from "../../../src/core/detection/train-bank.js";

describe("openBank()", () => {
  const { rhythms, fewestSwitchings, mostSwitchings } = openBank(0.3);

  it("holds on-times from 1.8 s to 20 s without a hole, each with off-times from about half to about twice", () => {
    expect([fewestSwitchings, mostSwitchings]).toEqual([1, 6]);
    const on = [...new Set(rhythms.map(({ onSteps }) => onSteps))].sort((a, b) => a - b);
    expect(on[0]).toBe(6);
    expect(on.at(-1)! * 0.3).toBeGreaterThan(18);
    expect(on.at(-1)! * 0.3).toBeLessThanOrEqual(20.1);
    on.slice(1).forEach((steps, k) => {
      // Neighbours are a tenth apart at most, but for the grid.
      expect(steps).toBeLessThanOrEqual(Math.ceil(1.1 * on[k]!));
    });
    for (const onSteps of on) {
      const ratios = rhythms.filter((one) => one.onSteps === onSteps).map(({ offSteps }) => offSteps / onSteps);
      expect(Math.min(...ratios)).toBeLessThan(0.7);
      expect(Math.max(...ratios)).toBeGreaterThan(1.6);
      expect(ratios).toContain(1);
    }
  });

  it.each([0.3, 0.11, 1.2])(
    "is on- and off-times 4.5 % apart, 13 such steps either way, on a grid of %d s",
    (stepS) => {
      const expected = new Map<string, object>();
      for (let i = 0; 1.8 * 1.045 ** i <= 20; i++) {
        for (let k = -13; k <= 13; k++) {
          const [onS, offS] = [1.8 * 1.045 ** i, 1.8 * 1.045 ** (i + k)];
          const [onSteps, offSteps] = [Math.round(onS / stepS), Math.round(offS / stepS)];
          // Log-normal: six seconds on, give or take a factor e^0.5; as long off, give or take e^0.25. To the half, 2.5 at most.
          const odd = (z: number) => Math.min(2.5, Math.round(2 * (z ** 2 / 2)) / 2);
          const rarity = odd(Math.log(onS / 6) / 0.5) + odd(Math.log(offS / onS) / 0.25);
          const key = `${onSteps} ${offSteps}`;
          if (onSteps >= 2 && offSteps >= 2 && !expected.has(key)) expected.set(key, { onSteps, offSteps, rarity });
        }
      }
      expect(openBank(stepS).rhythms).toEqual([...expected.values()]);
    },
  );

  it("takes three to five switchings for the usual number, fewer and more for e^-0.5 to e^-1.5 as likely", () => {
    expect(openBank(0.3).countRarities).toEqual([1.5, 0.5, 0, 0, 0, 1]);
  });

  it("holds no rhythm twice, and none of fewer than two steps", () => {
    expect(new Set(rhythms.map(({ onSteps, offSteps }) => `${onSteps} ${offSteps}`)).size).toBe(rhythms.length);
    for (const { onSteps, offSteps } of openBank(1.2).rhythms) {
      expect(onSteps).toBeGreaterThanOrEqual(2);
      expect(offSteps).toBeGreaterThanOrEqual(2);
    }
    expect(openBank(1.2).rhythms.some(({ onSteps }) => onSteps === 2)).toBe(true);
    expect(openBank(1.2).rhythms.some(({ offSteps }) => offSteps === 2)).toBe(true);
  });
});

describe("cadenceBank()", () => {
  it("holds each time to within a tenth, every step of the grid", () => {
    const { rhythms } = cadenceBank({ onS: 6, offS: 8.1 }, 0.3);
    expect([...new Set(rhythms.map(({ onSteps }) => onSteps))].sort((a, b) => a - b)).toEqual([18, 19, 20, 21, 22]);
    // 24.3 to 29.7 steps.
    expect([...new Set(rhythms.map(({ offSteps }) => offSteps))].sort((a, b) => a - b)).toEqual([
      24, 25, 26, 27, 28, 29, 30,
    ]);
    expect(rhythms).toHaveLength(35);
  });

  it("takes eleven times of each where the grid is finer than that", () => {
    const { rhythms } = cadenceBank({ onS: 30, offS: 6 }, 0.3);
    const on = [...new Set(rhythms.map(({ onSteps }) => onSteps))].sort((a, b) => a - b);
    expect([on[0], on.at(-1), on.length]).toEqual([90, 110, 11]);
    expect(on).toContain(100);
  });

  it("takes a stated number of switchings and no other, else one to six", () => {
    expect(cadenceBank({ onS: 6, offS: 9 }, 0.3)).toMatchObject({ fewestSwitchings: 1, mostSwitchings: 6 });
    expect(cadenceBank({ onS: 6, offS: 9, switchingCount: 4 }, 0.3)).toMatchObject({
      fewestSwitchings: 4,
      mostSwitchings: 4,
    });
  });

  it("takes no train of a stated cadence for rarer than the most usual kind, however many switchings", () => {
    for (const switchingCount of [undefined, 4, 9]) {
      const cadence = switchingCount === undefined ? { onS: 6, offS: 9 } : { onS: 6, offS: 9, switchingCount };
      const { rhythms, mostSwitchings, countRarities } = cadenceBank(cadence, 0.3);
      expect(rhythms.every(({ rarity }) => rarity === 0)).toBe(true);
      expect(countRarities.slice(0, mostSwitchings)).toEqual(new Array(mostSwitchings).fill(0));
    }
  });
});
