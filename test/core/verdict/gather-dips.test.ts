import { describe, expect, it } from "vitest";
import type { LoadAnswer } from "../../../src/core/analysis.js";
import type { MeasuredSteps } from "../../../src/core/estimation/dip-resistances.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { gatherDips } from "../../../src/core/verdict/gather-dips.js";
import { dipOf, judgedOf, RESPONSE, SHAPE, SOURCE } from "./judged-response.js";

const current = normalQuantity(5, 0.05, "A", "measured-current");
const answer = {
  id: "probe",
  verdict: "responded",
  depth: normalQuantity(0.1, 0.005, "V", "generalized-least-squares"),
  coldDepth: null,
  current,
  reference: false,
} as unknown as LoadAnswer;

const gather = (
  judged = judgedOf(),
  answers: readonly LoadAnswer[] = [answer],
  source: Parameters<typeof gatherDips>[2] = SOURCE,
  steps: MeasuredSteps | null = null,
  gainUncertainty = 0,
) => gatherDips([judged], answers, source, steps, { gainUncertainty, random: randomGenerator(1) });

describe("gatherDips()", () => {
  it("lists each switching of a load that responded, in order of time, with its own depth", () => {
    const later = dipOf({ onTime: { onsetS: 20, releaseS: 26 }, depthV: 0.12, uDepthV: 0.02, referenceV: 23.5 });
    const dips = gather(judgedOf({ dips: [later, dipOf()] }));
    expect(dips.map(({ onsetS }) => onsetS)).toEqual([10, 20]);
    expect(dips[1]).toMatchObject({ onsetS: 20, releaseS: 26, durationS: 6, load: "probe", current });
    expect(dips[1]!.depth).toEqual(normalQuantity(0.12, 0.02, "V", "generalized-least-squares"));
    expect(dips[1]!.residualV).toBeCloseTo(23.38, 12);
  });

  it("adds the doubt of the readings' gain to each depth and to the resistance it gives", () => {
    const [plain] = gather();
    const told = {
      ...answer,
      depth: normalQuantity(0.1, Math.hypot(0.005, 0.3 * 0.1), "V", "generalized-least-squares"),
    };
    const [doubted] = gather(judgedOf(), [told], SOURCE, null, 0.3);
    expect(doubted!.depth.value).toBe(plain!.depth.value);
    expect(doubted!.depth.u).toBeCloseTo(Math.hypot(0.01, 0.3 * 0.1), 12);
    expect(doubted!.depth.high - 0.1).toBeCloseTo(1.959964 * Math.hypot(0.01, 0.03), 7);
  });

  it("lengthens each interval, and that of its resistance, as the load's for having been accepted, in quadrature", () => {
    const [plain] = gather();
    const whole = { ...answer.depth!, low: 0.1 - 3 * 0.005, high: 0.1 + 1.5 * 0.005 };
    const [dip] = gather(judgedOf(), [{ ...answer, depth: whole }]);
    const z = 1.959964;
    expect(dip!.depth.value).toBe(0.1);
    expect(dip!.depth.u).toBe(plain!.depth.u);
    expect(0.1 - dip!.depth.low).toBeCloseTo(Math.sqrt((z * 0.01) ** 2 + (9 - z ** 2) * 0.005 ** 2), 7);
    expect(dip!.depth.high - 0.1).toBeCloseTo(Math.sqrt((z * 0.01) ** 2 + (1.5 ** 2 - z ** 2) * 0.005 ** 2), 7);
    // 5 A: 0.2 ohms come with a volt.
    const [{ resistance: told }, { resistance: before }] = [dip!.resistance!, plain!.resistance!];
    expect(told.value).toBe(before.value);
    expect((told.value - told.low) ** 2 - (before.value - before.low) ** 2).toBeCloseTo(
      0.2 ** 2 * (9 - z ** 2) * 0.005 ** 2,
      10,
    );
  });

  it("lists none of a load that did not respond, has no depth, or was not answered", () => {
    expect(gather(judgedOf(), [{ ...answer, verdict: "undecided" }])).toEqual([]);
    expect(gather(judgedOf(), [{ ...answer, depth: null }])).toEqual([]);
    expect(gather(judgedOf(), [{ ...answer, id: "other" }])).toEqual([]);
  });

  it("a cold heater takes the voltage down by its inrush more", () => {
    const cold = { ...RESPONSE, shape: { ...SHAPE, inrush: 0.5 } };
    const [dip] = gather(judgedOf({ response: cold }), [{ ...answer, coldDepth: answer.depth }]);
    expect(dip!.residualV).toBeCloseTo(24 - 0.15, 12);
    expect(gather(judgedOf({ response: cold }))[0]!.residualV).toBeCloseTo(23.9, 12);
  });

  it("states the resistance 1 s after the step: depth over measured current, grown by the polarisation", () => {
    const shape = { ...SHAPE, polarization: 0.4, polarizationS: 20 };
    const [dip] = gather(judgedOf({ response: { ...RESPONSE, shape } }));
    const growth = 0.4 * (1 - Math.exp(-1 / 20));
    expect(dip!.resistance!.atS).toBe(1);
    expect(dip!.resistance!.resistance.value).toBeCloseTo(0.02 * (1 + growth), 12);
    // 10 % depth, 1 % current, and the growth known to 35 %.
    const relative = Math.hypot(0.1, 0.01, (0.35 * growth) / (1 + growth));
    expect(dip!.resistance!.resistance.u).toBeCloseTo(0.02 * (1 + growth) * relative, 12);
    expect(dip!.resistances).toEqual([dip!.resistance]);
  });

  it("gives no resistance where the current itself came from the dip", () => {
    const reckoned = { ...answer, current: { ...current, route: "known-resistance" as const } };
    for (const one of [reckoned, { ...answer, current: null }, { ...answer, current: { ...current, value: 0 } }]) {
      const [dip] = gather(judgedOf(), [one]);
      expect(dip!.resistance).toBeNull();
      expect(dip!.resistances).toEqual([]);
    }
  });

  it("but for the reference load that gave the source resistance, whose rating is known beforehand", () => {
    const rated = { ...answer, current: { ...current, route: "reference-load" as const } };
    const byProbe = { ...SOURCE, load: "probe" };
    expect(gather(judgedOf(), [{ ...rated, reference: true }], byProbe)[0]!.resistance).not.toBeNull();
    expect(gather(judgedOf(), [{ ...rated, reference: false }], byProbe)[0]!.resistance).toBeNull();
    expect(gather(judgedOf(), [{ ...rated, reference: true }], { ...SOURCE, load: "other" })[0]!.resistance).toBeNull();
    const unknown = { known: false, reason: "path-unknown" } as const;
    expect(gather(judgedOf(), [{ ...rated, reference: true }], unknown)[0]!.resistance).toBeNull();
  });

  it("takes depth, current and resistances from a clear step of the measured current", () => {
    const known = (resistanceOhm: number) => ({
      known: true as const,
      resistanceOhm,
      uOhm: 0.0002,
      changeV: -0.09,
      changeA: 6,
      rows: [
        { source: "depth" as const, value: 0.09, unit: "V" as const, u: 0.0003, sensitivity: 1 },
        { source: "display-step" as const, value: 0.09, unit: "V" as const, u: 0.0004, sensitivity: 1 },
        { source: "measured-current" as const, value: 6, unit: "A" as const, u: 0.06, sensitivity: 1 },
      ],
    });
    const steps = {
      onSteps: [
        {
          step: { beforeS: 9.9, afterS: 10.1 },
          charging: false,
          answers: [
            { atS: 0.1, first: true, answer: known(0.015) },
            { atS: 1, first: false, answer: known(0.016) },
          ],
        },
      ],
      reason: null,
      dischargeSign: 1,
    } as unknown as MeasuredSteps;
    const [dip] = gather(judgedOf({ dips: [dipOf()] }), [answer], SOURCE, steps);
    expect(dip).toMatchObject({ onsetS: 10, releaseS: 15, durationS: 5, load: "probe" });
    expect(dip!.depth.value).toBe(0.09);
    expect(dip!.depth.u).toBeCloseTo(0.0005, 12);
    expect(dip!.depth.route).toBe("measured-current");
    expect(dip!.residualV).toBeCloseTo(23.91, 12);
    expect(dip!.current).toEqual(normalQuantity(6, 0.06, "A", "measured-current"));
    expect(dip!.resistances.map(({ atS, resistance }) => [atS, resistance.value])).toEqual([
      [0.1, 0.015],
      [1, 0.016],
    ]);
    expect(dip!.resistance).toEqual(dip!.resistances[0]);
  });
});
