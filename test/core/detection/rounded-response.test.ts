import { describe, expect, it } from "vitest";
import { analyze } from "../../../src/core/index.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

/** 45 s at 10 Hz on a display of 0.1 V, three switchings of 5 s, noise `steps` of the display; every second one coloured. */
function judged(seed: number, depthV: number, steps: number) {
  const random = randomGenerator(seed);
  const stepV = 0.1;
  const place = random.uniform() * stepV;
  const slope = 0.004 * (random.uniform() - 0.3);
  const colouredShare = seed % 2 === 0 ? 0 : 0.66;
  const firstS = 5 + 4 * random.uniform();
  const on = [0, 1, 2].map((k) => {
    const onsetS = firstS + 11 * k + random.uniform();
    return { onsetS, releaseS: onsetS + 5 };
  });
  let ar = random.normal();
  const timesS = Float64Array.from({ length: 450 }, (_, i) => i / 10);
  const voltagesV = timesS.map((t) => {
    ar = 0.8 * ar + 0.6 * random.normal();
    const noise = Math.sqrt(1 - colouredShare ** 2) * random.normal() + colouredShare * ar;
    const dip = on.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS) ? depthV : 0;
    return Math.round((24 + place - slope * t - dip + steps * stepV * noise) / stepV) * stepV;
  });
  const marks = on.flatMap(({ onsetS, releaseS }) => [
    { timeS: onsetS, load: "probe", action: "on" as const },
    { timeS: releaseS, load: "probe", action: "off" as const },
  ]);
  const profile = { loads: [{ id: "probe", kind: "resistive" as const, reference: false }] };
  return analyze({ timesS, voltagesV }, { marks, markUncertaintyS: 0.1, profile, seed }).loads[0]!;
}

describe("a dip below one digit of the display", () => {
  it.each([0.25, 0.4])("at a noise of %d digits, is found, its depth within its interval", (steps) => {
    let responded = 0;
    let covered = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const { verdict, depth } = judged(seed, 0.05, steps);
      if (verdict === "responded") responded += 1;
      if (depth !== null && depth.low <= 0.05 && 0.05 <= depth.high) covered += 1;
      // Half a digit would hide the dip if the rounding were taken for a bias: 45 mV and 7 mV at the worst.
      if (verdict === "responded") expect(depth!.u, `seed ${seed}`).toBeLessThan(0.02);
    }
    // Power of at least 95 % at 50 mV; fewer than 9 of 12 by chance: 0.02 %.
    expect(responded).toBeGreaterThanOrEqual(9);
    // 95 % intervals; fewer than 9 of 12 by chance: 0.02 %.
    expect(covered).toBeGreaterThanOrEqual(9);
  });

  it("is not found where there is none, but for false alarms at the stated rate", () => {
    let responded = 0;
    for (let seed = 1; seed <= 20; seed++) {
      if (judged(seed, 0, seed % 2 === 0 ? 0.25 : 0.35).verdict === "responded") responded += 1;
    }
    // 1 % each; three or more of 20 by chance: 0.1 %.
    expect(responded).toBeLessThanOrEqual(2);
  });

  it("is refused where the noise is too small to dither the digits", () => {
    for (let seed = 1; seed <= 3; seed++) {
      const { verdict, minimumDetectableDepthV } = judged(seed, 0, 0.03);
      expect(verdict).toBe("undecided");
      expect(minimumDetectableDepthV!).toBeGreaterThan(0.09);
    }
  });
});
