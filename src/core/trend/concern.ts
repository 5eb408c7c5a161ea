import { logarithm } from "../statistics/portable-exponential.js";
import type { TrendJudgement } from "./trend.js";

/** How much a battery asks for attention: a higher class first, within a class the larger measure. */
export interface Concern {
  readonly class: 5 | 4 | 3 | 2 | 1 | 0;
  readonly measure: number;
}

const YEAR_S = 31_557_600;

/**
 * Concern about one quantity of a battery at the moment `nowS` (seconds since 1970-01-01 UTC).
 *
 * 5 limit reached, 4 level worse beyond its limit, 3 forecast to reach the limit within a year, 2 a question stands,
 * 1 in control, 0 baseline being gathered.
 */
export function concernOf(judgement: TrendJudgement, nowS: number): Concern {
  const worse = judgement.alarms.find((alarm) => alarm.code === "level-worse" && alarm.standing);
  const share = limitShare(judgement);
  if (judgement.alarms.some((alarm) => alarm.code === "limit-reached")) return { class: 5, measure: share };
  if (worse) return { class: 4, measure: share };
  const { forecast } = judgement;
  if (forecast?.known && forecast.at < nowS + YEAR_S) return { class: 3, measure: nowS - forecast.at };
  if (judgement.status === "question") return { class: 2, measure: share };
  return judgement.chart ? { class: 1, measure: share } : { class: 0, measure: -judgement.baselineWanting };
}

/** Where the moving average stands between the baseline (0) and its limit (1). */
function limitShare({ chart }: TrendJudgement): number {
  if (!chart || chart.average.length === 0) return 0;
  const last = chart.average[chart.average.length - 1];
  return logarithm(last / chart.baseline) / logarithm(chart.averageLimit / chart.baseline);
}

/** Orders concerns, the greatest first. */
export function compareConcern(a: Concern, b: Concern): number {
  return b.class - a.class || b.measure - a.measure;
}
