import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { currentNoise, currentSteps } from "../../../src/core/estimation/current-step.js";
import { levelAt } from "../../../src/core/estimation/level-at.js";
import { twoCurrentFigures } from "../../../src/core/estimation/two-current-figures.js";
import { twoCurrentResistance } from "../../../src/core/estimation/two-current-resistance.js";
import { analyze, type Recording } from "../../../src/core/index.js";
import { readingNoise } from "../../../src/core/statistics/reading-noise.js";

const emfV = 25;
const ohm = 0.018;

/** Readings at 10 Hz of a plain source behind 18 mOhm, with the given levels `[from, to, amperes]`. */
function recordingOf(
  levels: readonly (readonly [number, number, number])[],
  endS: number,
  noiseV = 0.002,
  zeroA = 0,
): Recording {
  const random = randomSource(77);
  const timesS = Float64Array.from({ length: 10 * endS }, (_, i) => i / 10 + 0.03);
  const amps = timesS.map((t) => levels.find(([from, to]) => t >= from && t < to)?.[2] ?? 0);
  return {
    timesS,
    voltagesV: amps.map((a) => emfV - ohm * a + noiseV * random.normal()),
    current: { timesS, currentsA: amps.map((a) => a + zeroA + 0.01 * random.normal()) },
  };
}

describe("twoCurrentFigures()", () => {
  it("IEC 60896-21: 22 A for 20 s, 3 minutes of rest, 120 A for 5 s: the source's own resistance and short-circuit current", () => {
    const recording = recordingOf(
      [
        [20, 42, 22],
        [222, 229, 120],
      ],
      240,
    );
    const figures = twoCurrentFigures(recording, 1, 44);
    expect(figures.map(({ standard }) => standard)).toEqual(["IEC 60896-21"]);
    const turned = {
      ...recording,
      current: { ...recording.current!, currentsA: recording.current!.currentsA.map((a) => -a) },
    };
    expect(twoCurrentFigures(turned, -1, 44)[0].resistance.value).toBeCloseTo(figures[0].resistance.value, 9);
    const { resistance, shortCircuit, levelsAsStandard } = figures[0];
    expect(levelsAsStandard).toBe(true);
    expect(Math.abs(resistance.value - ohm)).toBeLessThan(3 * resistance.u);
    expect(Math.abs(shortCircuit!.value - emfV / ohm)).toBeLessThan(3 * shortCircuit!.u);
    // The gain of the clamp, 1 %, is common to both currents and so to both figures.
    expect(resistance.u / resistance.value).toBeGreaterThan(0.01);
    expect(resistance.u / resistance.value).toBeLessThan(0.013);
  });

  it("IEC 61960-3: 0.5 A for 10 s, then at once 2.5 A for 1 s", () => {
    const recording = recordingOf(
      [
        [20, 31, 0.5],
        [31, 33, 2.5],
      ],
      60,
      0.0002,
    );
    const figures = twoCurrentFigures(recording, 1, 2.5);
    expect(figures.map(({ standard }) => standard)).toEqual(["IEC 61960-3"]);
    const { resistance, shortCircuit, levelsAsStandard, firstA, secondA } = figures[0];
    expect(levelsAsStandard).toBe(true);
    expect(shortCircuit).toBeNull();
    expect(Math.abs(resistance.value - ohm)).toBeLessThan(3 * resistance.u);
    expect(firstA.value).toBeCloseTo(0.5, 1);
    expect(secondA.value).toBeCloseTo(2.5, 1);
  });

  it("asks for a second current of at least one and a half times the first", () => {
    for (const [secondA, count] of [
      [32, 0],
      [34, 1],
    ] as const) {
      const recording = recordingOf(
        [
          [20, 42, 22],
          [222, 229, secondA],
        ],
        240,
      );
      expect(twoCurrentFigures(recording, 1, 44), `${secondA} A`).toHaveLength(count);
    }
  });

  it("says that the currents are other ones, or that it cannot know; and nothing without two levels or without the rest", () => {
    const pulses = (restS: number) =>
      recordingOf(
        [
          [20, 42, 22],
          [42 + restS, 49 + restS, 120],
        ],
        60 + restS,
      );
    expect(twoCurrentFigures(pulses(150), 1, 100)[0].levelsAsStandard).toBe(false);
    expect(twoCurrentFigures(pulses(150), 1, undefined)[0].levelsAsStandard).toBeNull();
    // Two to five minutes of rest.
    for (const restS of [60, 115, 305]) expect(twoCurrentFigures(pulses(restS), 1, 44), `${restS}`).toEqual([]);
    for (const restS of [125, 295]) expect(twoCurrentFigures(pulses(restS), 1, 44), `${restS}`).toHaveLength(1);
    expect(twoCurrentFigures(recordingOf([[20, 42, 22]], 60), 1, 44)).toEqual([]);
    expect(twoCurrentFigures(pulses(150), -1, 44)).toEqual([]);
  });
});

describe("twoCurrentFigures() beside a rest", () => {
  it("takes for a discharge after charging only one of a larger current than the charging", () => {
    for (const [chargingA, count] of [
      [20, 1],
      [24, 0],
    ] as const) {
      const recording = recordingOf(
        [
          [10, 20, -chargingA],
          [20, 42, 22],
          [222, 229, 120],
        ],
        240,
      );
      expect(twoCurrentFigures(recording, 1, 44), `${chargingA} A`).toHaveLength(count);
    }
  });

  it("takes no rest for the first current, however the clamp's zero lies", () => {
    for (const zeroA of [-0.05, 0, 0.05]) {
      // After a discharge and after charging; one current alone tells nothing by the standards.
      for (const beforeA of [22, -22]) {
        const recording = recordingOf(
          [
            [20, 42, beforeA],
            [82, 89, 120],
          ],
          100,
          0.002,
          zeroA,
        );
        expect(twoCurrentFigures(recording, 1, 44), `${zeroA} ${beforeA}`).toEqual([]);
      }
    }
  });
});

describe("analyze() with marks and a measured current", () => {
  const levels = [
    [20, 42, 22],
    [222, 229, 120],
  ] as const;
  const marks = levels.flatMap(([onS, offS], k) => [
    { timeS: onS, load: `load ${k}`, action: "on" as const },
    { timeS: offS, load: `load ${k}`, action: "off" as const },
  ]);

  it("knows the sign of the discharge from the steps, and so gives the two-current figures", () => {
    const { battery, assumptions } = analyze(recordingOf(levels, 240), { marks });
    expect(battery.twoCurrent!.map(({ standard }) => standard)).toEqual(["IEC 60896-21"]);
    const why = assumptions.find((one) => one.code === "not-identifiable" && one.what === "polarization");
    // There are steps enough; what is missing is a polarisation.
    expect(why).toBeDefined();
    expect(why).not.toMatchObject({ why: "no-current-step" });
  });
});

describe("twoCurrentFigures() on coarse displays", () => {
  it.each([
    [0.02, 0.5],
    [0.1, 0.1],
  ])("counts what %d V and %d A of rounding leave, noise and onset, and the gain of the clamp", (stepV, stepA) => {
    const plain = recordingOf(
      [
        [20, 42, 22],
        [222, 229, 120],
      ],
      240,
      0.6 * stepV,
    );
    const random = randomSource(5);
    const voltagesV = plain.voltagesV.map((v) => stepV * Math.round(v / stepV));
    const currentsA = plain.current!.currentsA.map(
      (a) => stepA * Math.round((a + 0.6 * stepA * random.normal()) / stepA),
    );
    const recording = { ...plain, voltagesV, current: { timesS: plain.timesS, currentsA } };
    const noise = readingNoise(plain.timesS, voltagesV);
    const { sigmaA } = currentNoise(currentsA);
    const [first, second] = currentSteps(recording.current)
      .filter(({ deltaA }) => deltaA > 0)
      .map((step, k) => {
        const place = { originS: step.onsetS, atS: [20, 5][k]!, startS: step.afterS, endS: step.quietToS };
        const volts = levelAt(plain.timesS, voltagesV, place, noise.correlationS)!;
        const amperes = levelAt(plain.timesS, currentsA, place, 0)!;
        // A display step q is rectangular: q / root 12.
        const uV = Math.hypot(noise.sigma * volts.noiseFactor, stepV / Math.sqrt(12), volts.slope * step.uOnsetS);
        const uA = Math.hypot(sigmaA * amperes.noiseFactor, stepA / Math.sqrt(12));
        return { terminalV: { value: volts.level, u: uV }, currentA: { value: amperes.level, u: uA } };
      });
    const hand = twoCurrentResistance(first!, second!);
    const [figure] = twoCurrentFigures(recording, 1, 44);
    expect(figure!.resistance.value).toBeCloseTo(hand.resistanceOhm.value, 12);
    expect(figure!.resistance.u).toBeCloseTo(Math.hypot(hand.resistanceOhm.u, 0.01 * hand.resistanceOhm.value), 12);
    expect(figure!.shortCircuit!.u).toBeCloseTo(Math.hypot(hand.shortCircuitA.u, 0.01 * hand.shortCircuitA.value), 6);
    expect(figure!.firstA.u).toBeCloseTo(Math.hypot(first!.currentA.u, 0.01 * first!.currentA.value), 12);
    expect(figure!.secondA.u).toBeCloseTo(Math.hypot(second!.currentA.u, 0.01 * second!.currentA.value), 12);
  });
});
