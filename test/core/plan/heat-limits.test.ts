import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type BusProfile, type LoadProfile, planCheck, statedReadings } from "../../../src/core/index.js";

/** Loads of any kind, current, limit, order and followers; each may only follow earlier ones, so that no circle arises. */
const loadsOfAnySort = fc
  .array(
    fc.record({
      kind: fc.constantFrom("heater" as const, "resistive" as const, "constant-power" as const),
      lowestA: fc.double({ min: 0.2, max: 12, noNaN: true }),
      timeLimitS: fc.option(fc.integer({ min: 1, max: 120 }), { nil: undefined }),
      order: fc.option(fc.integer({ min: 1, max: 9 }), { nil: undefined }),
      shows: fc.constantFrom("needle" as const, "needle" as const, "seen" as const, "heard" as const),
      follows: fc.nat(20),
      place: fc.nat(1000),
    }),
    { minLength: 1, maxLength: 7 },
  )
  .map((drafts) =>
    drafts
      .map(({ lowestA, follows, place, timeLimitS, order, kind, shows }, k): { load: LoadProfile; place: number } => ({
        place,
        load: {
          id: `l${k}`,
          kind,
          shows,
          reference: false,
          acceptA: [lowestA, 2 * lowestA],
          ...(timeLimitS === undefined ? {} : { timeLimitS }),
          ...(order === undefined ? {} : { order }),
          ...(follows < k ? { after: [`l${follows}`] } : {}),
        },
      }))
      // Not written in the order in which they follow each other.
      .sort((a, b) => a.place - b.place)
      .map(({ load }) => load),
  );

const profileOf = (loads: readonly LoadProfile[]): BusProfile => ({
  battery: { resistanceOhm: { value: 0.0125, u: 0.0004 } },
  pathResistanceOhm: { value: 0, u: 0 },
  meter: { smallestDivisionV: 1, lagS: 0.25 },
  loads,
});

describe("planCheck() of any bus", () => {
  it("never leaves a load on beyond its limit, one load at a time, each after those that it follows", () => {
    let limited = 0;
    fc.assert(
      fc.property(loadsOfAnySort, fc.double({ min: 0.01, max: 0.12, noNaN: true }), (loads, noiseV) => {
        const plan = planCheck(profileOf(loads), { readings: statedReadings(noiseV, undefined) });
        expect(plan.items.map(({ load }) => load.id).sort()).toEqual(loads.map(({ id }) => id).sort());
        const done = new Set<string>();
        let freeFromS = Number.NEGATIVE_INFINITY;
        for (const { load, needle } of plan.items) {
          for (const id of load.after ?? []) expect(done).toContain(id);
          done.add(load.id);
          const own = plan.marks.filter((mark) => mark.load === load.id);
          expect(own.map(({ action }) => action)).toEqual(own.map((_, i) => (i % 2 === 0 ? "on" : "off")));
          expect(own).toHaveLength(2 * (needle?.pattern?.onS.length ?? 0));
          let onS = 0;
          for (let i = 0; i + 1 < own.length; i += 2) {
            expect(own[i]!.timeS).toBeGreaterThanOrEqual(freeFromS);
            freeFromS = own[i + 1]!.timeS;
            onS += freeFromS - own[i]!.timeS;
          }
          if (load.timeLimitS === undefined || own.length === 0) continue;
          limited += 1;
          // The marks are sums of whole seconds, exact in doubles.
          expect(onS).toBeLessThanOrEqual(load.timeLimitS);
        }
      }),
      { seed: 1, numRuns: 40 },
    );
    // Half of some 160 loads have a limit, and most of these can be planned: the test cannot run empty.
    expect(limited).toBeGreaterThan(20);
  }, 300_000);

  it("keeps to the order that is asked for where nothing must be followed", () => {
    fc.assert(
      fc.property(loadsOfAnySort, (loads) => {
        const free = loads.map(({ after: _, ...load }) => ({ ...load, shows: "seen" as const }));
        const orders = planCheck(profileOf(free), { readings: null }).items.map(({ load }) => load.order ?? 1e9);
        expect(orders).toEqual([...orders].sort((a, b) => a - b));
      }),
      { seed: 2, numRuns: 100 },
    );
  });
});
