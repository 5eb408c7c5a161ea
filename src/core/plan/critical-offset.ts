import { type ScoreBank, scoreDistribution } from "../detection/averaged-score.js";
import { normalQuantile, normalSurvival } from "../statistics/distribution.js";
import { randomGenerator } from "../statistics/random.js";
import { SCALE_STRATA, scaleAt } from "./score-scale.js";

/**
 * How far the averaged score of a bank of shapes lies beyond a single score's at the same false-alarm rate.
 *
 * The banks of one kind of load differ little from pattern to pattern, so that the first one serves for all; 0.02 of a
 * score or less is lost.
 */
export class CriticalOffset {
  private readonly offsets = new Map<number, number>();

  /** Averaged score that noise alone reaches with the given probability, its scale known as well as `scaleSd` says. */
  criticalScore(bank: ScoreBank, falseAlarmRate: number, scaleSd: number): number {
    let offset = this.offsets.get(falseAlarmRate);
    if (offset === undefined) {
      const known = scoreDistribution(bank, 0, randomGenerator(5)).criticalScore(falseAlarmRate);
      offset = known + normalQuantile(falseAlarmRate);
      this.offsets.set(falseAlarmRate, offset);
    }
    const tail = (score: number) => {
      let sum = 0;
      for (let k = 0; k < SCALE_STRATA; k++) sum += normalSurvival(score / scaleAt(scaleSd, k) - offset);
      return sum / SCALE_STRATA;
    };
    let [low, high] = [0, 12];
    for (let k = 0; k < 30; k++) {
      const middle = (low + high) / 2;
      if (tail(middle) > falseAlarmRate) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  }
}
