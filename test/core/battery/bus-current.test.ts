import { describe, expect, it } from "vitest";
import { busCurrent } from "../../../src/core/battery/bus-current.js";
import type { LoadProfile } from "../../../src/core/profile.js";

const load = (id: string, kind: LoadProfile["kind"], powerW: number): LoadProfile => ({
  id,
  kind,
  reference: false,
  rated: { powerW, atV: 24, toleranceFraction: 0 },
});
const busV = { value: 24, u: 1 };

describe("busCurrent()", () => {
  // Hand reckoning: 100 W and 200 W at 24 V are 12.5 A; both rise by 1/24 of theirs a volt, together.
  it("adds up what a voltage common to all loads leaves open", () => {
    const { value, u } = busCurrent({ loads: [load("a", "heater", 100), load("b", "resistive", 200)] }, null, busV)!;
    expect(value).toBeCloseTo(12.5, 9);
    expect(u).toBeCloseTo(12.5 / 24, 6);
  });

  it("lets a constant power make up for a resistance, and leaves a constant current alone", () => {
    const loads = [load("a", "resistive", 240), load("b", "constant-power", 240), load("c", "constant-current", 240)];
    const { value, u } = busCurrent({ loads }, null, busV)!;
    expect(value).toBeCloseTo(30, 9);
    expect(u).toBeLessThan(1e-4);
  });

  it("counts the measured base with its own uncertainty", () => {
    const base = { value: 5, u: 0.3 };
    const { value, u, baseMeasured } = busCurrent({ loads: [load("a", "heater", 96)] }, base, busV)!;
    expect(value).toBeCloseTo(9, 9);
    expect(u).toBeCloseTo(Math.hypot(0.3, 4 / 24), 6);
    expect(baseMeasured).toBe(true);
  });

  it("is not told where a load has no rating", () => {
    const { rated: _rated, ...unrated } = load("a", "heater", 96);
    expect(busCurrent({ loads: [unrated] }, null, busV)).toBeNull();
  });
});
