import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { checkOrder } from "../../../src/core/plan/check-order.js";
import type { LoadProfile } from "../../../src/core/profile.js";

const load = (id: string, more: Partial<LoadProfile> = {}): LoadProfile => ({
  id,
  kind: "resistive",
  reference: false,
  ...more,
});
const ids = (loads: readonly LoadProfile[]) => checkOrder(loads).map(({ id }) => id);

describe("checkOrder()", () => {
  it("keeps the order of the profile where nothing else is asked for", () => {
    expect(ids([load("c"), load("a"), load("b")])).toEqual(["c", "a", "b"]);
    expect(ids([load("c", { order: 2 }), load("a", { order: 2 }), load("b", { order: 2 })])).toEqual(["c", "a", "b"]);
    expect(ids([])).toEqual([]);
  });

  it("puts the lowest order first, and loads without one last", () => {
    expect(ids([load("a"), load("b", { order: 3 }), load("c", { order: -1 }), load("d", { order: 0 })])).toEqual([
      "c",
      "d",
      "b",
      "a",
    ]);
  });

  it("waits for all that must come before, and not for loads that the profile does not have", () => {
    expect(ids([load("a", { order: 1, after: ["b", "c"] }), load("b"), load("c")])).toEqual(["b", "c", "a"]);
    expect(ids([load("a", { after: ["elsewhere"] }), load("b")])).toEqual(["a", "b"]);
  });

  it("names the loads that wait for each other, and no other", () => {
    const loads = [load("free"), load("a", { after: ["b"] }), load("b", { after: ["a"] })];
    expect(() => checkOrder(loads)).toThrow("Cannot order the check: some of these loads wait for each other: a, b");
  });

  it("takes at each turn the first in line that waits for nothing: beside an obvious twin", () => {
    const someLoads = fc
      .array(fc.record({ order: fc.option(fc.integer({ min: 0, max: 3 })), follows: fc.nat(9) }), { maxLength: 7 })
      .map((drafts) =>
        drafts.map(({ order, follows }, k) =>
          load(`l${k}`, {
            ...(order === null ? {} : { order }),
            ...(follows > k && follows < drafts.length ? { after: [`l${follows}`] } : {}),
          }),
        ),
      );
    fc.assert(
      fc.property(someLoads, (loads) => {
        const left = [...loads];
        const done: string[] = [];
        while (left.length > 0) {
          const ready = left.filter(({ after }) => (after ?? []).every((id) => done.includes(id)));
          const least = Math.min(...ready.map(({ order }) => order ?? 1e9));
          const next = ready.find(({ order }) => (order ?? 1e9) === least)!;
          done.push(next.id);
          left.splice(left.indexOf(next), 1);
        }
        expect(ids(loads)).toEqual(done);
      }),
      { seed: 1, numRuns: 200 },
    );
  });
});
