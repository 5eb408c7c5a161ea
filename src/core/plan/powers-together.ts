import { normalQuantile, normalSurvival } from "../statistics/distribution.js";
import { randomGenerator } from "../statistics/random.js";
import { holmAdjusted } from "../verdict/holm.js";

const DRAWS = 4000;

/**
 * Chance of each load to be found when all are judged in one recording and share the false-alarm rate by Holm's method.
 *
 * `detected` gives each load's own chance at a false-alarm rate; between its values at the whole rate and at an equal share
 * its score is taken as normal.
 */
export function powersTogether(
  detected: readonly ((falseAlarmRate: number) => number)[],
  falseAlarmRate: number,
): readonly number[] {
  const count = detected.length;
  if (count <= 1) return detected.map((own) => own(falseAlarmRate));
  const random = randomGenerator(3);
  const share = falseAlarmRate / count;
  const scores = detected.map((own) => {
    const [whole, least] = [falseAlarmRate, share].map((rate) => ({
      critical: -normalQuantile(rate),
      margin: normalQuantile(Math.min(1 - 1e-9, Math.max(1e-9, own(rate)))),
    }));
    // Score = mean + spread x standard normal that gives both chances.
    const spread = (least.critical - whole.critical) / Math.max(whole.margin - least.margin, 1e-6);
    const bounded = Math.min(2, Math.max(0.5, spread));
    return { mean: least.critical + bounded * least.margin, spread: bounded };
  });
  const found = new Array<number>(count).fill(0);
  for (let k = 0; k < DRAWS; k++) {
    const pValues = scores.map(({ mean, spread }) => normalSurvival(mean + spread * random.normal()));
    holmAdjusted(pValues).forEach((pValue, i) => {
      if (pValue <= falseAlarmRate) found[i] += 1;
    });
  }
  return found.map((times) => times / DRAWS);
}
