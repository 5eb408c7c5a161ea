import { fitNoise } from "../noise/restricted-likelihood.js";
import { mixtureMoments } from "../statistics/normal-mixture.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import type { MarkedLoad } from "./load-work.js";
import type { MarkedDetection } from "./marked-detection.js";
import type { MarkedResponse } from "./marked-response.js";
import { matchedScores } from "./matched-scores.js";
import { type DipShape, dipTemplate, type OnTime } from "./switching-template.js";

/** A load whose voltage came back long before it was marked off, or stayed down long after. */
export interface StrayRelease {
  readonly load: string;
  readonly onsetS: number;
  /** When it was marked off, seconds; null where no mark says so. */
  readonly markedS: number | null;
  /** When the voltage came back; null where it stayed down to the end of the readings. */
  readonly seenS: number | null;
  /** Whether the switchings marked after it show nothing of their own. */
  readonly lasting: boolean;
}

/** A detection whose on-times are those that the readings show. */
export interface StrayReleases {
  readonly detection: MarkedDetection;
  readonly strays: readonly StrayRelease[];
}

/** Chance per stretch of readings that noise alone passes for a stray release, at the most. */
const FALSE_RATE = 0.005;
/** Stray releases that are looked for in one stretch, one after the other. */
const MOST_STRAYS = 3;
/** Score of the readings for a stray release, beside the noise as marked, from which on a closer look is worth its time. */
const WORTH_A_LOOK = 2.5;
/** The quick comparison keeps the shape of the dip, so that the full one may still gain this much. */
const QUICK_MARGIN = 3;
/** Depth over its uncertainty below which nothing is said of the times of a load. */
const CLEAR = 4;

/**
 * Looks for a switching whose voltage came back early (a breaker that trips) or late (a load left on), and judges the
 * loads anew with the on-times that the readings show.
 *
 * Noise that was fitted beside a dip that is not there swells and hides the fault. So both stories are told whole, each
 * with its own noise: the likelihood of the best one must be greater than that of the marks by the number of stories that
 * were tried over the rate of false ones, which holds that rate (a likelihood ratio exceeds `c` by chance in at most 1 of
 * `c` cases: Markov's inequality). Score and p-value of each load stay those of its marks.
 */
export function strayReleases(
  asMarked: MarkedDetection,
  loads: readonly MarkedLoad[],
  judge: (loads: readonly MarkedLoad[]) => MarkedDetection,
): StrayReleases {
  const strays: StrayRelease[] = [];
  let detection = asMarked;
  let current = loads;
  while (strays.length < MOST_STRAYS) {
    const next = likeliestStray(detection, current, judge);
    if (next === null) break;
    strays.push(...next.strays);
    detection = next.detection;
    current = next.loads;
  }
  if (strays.length === 0) return { detection, strays };
  const responses = detection.responses.map((response, k) => {
    const { score, distribution } = asMarked.responses[k];
    return { ...response, score, distribution };
  });
  return { detection: { ...detection, responses }, strays };
}

/** One story of what a load did: how one of its switchings ended, or all of them. */
interface Story {
  readonly onTimes: readonly OnTime[];
  readonly switchings: readonly number[];
  readonly lasting: boolean;
}

interface FoundStrays {
  readonly strays: readonly StrayRelease[];
  readonly detection: MarkedDetection;
  readonly loads: readonly MarkedLoad[];
}

function likeliestStray(
  detection: MarkedDetection,
  loads: readonly MarkedLoad[],
  judge: (loads: readonly MarkedLoad[]) => MarkedDetection,
): FoundStrays | null {
  const { timesS } = detection.design.series;
  const endS = timesS[timesS.length - 1];
  const stories = loads.map((load) => storiesOf(load, endS));
  const needed = logarithm(stories.reduce((sum, { length }) => sum + length, 0) / FALSE_RATE);
  const ranked = loads
    .flatMap((load, k) => {
      // Beside a load that overlaps it, on-times cut short may leave nothing that tells the two apart.
      const isAlone = loads.every((other) => other === load || !overlap(load.onTimes, other.onTimes));
      const kinds = [stories[k].filter((story) => !isOfAll(story)), isAlone ? stories[k].filter(isOfAll) : []];
      return kinds
        .filter(({ length }) => length > 0)
        .map((kind) => ({ k, load, ...bestStory(detection, detection.responses[k], kind) }))
        .filter(({ score }) => score >= WORTH_A_LOOK);
    })
    .sort((a, b) => b.score - a.score);
  for (const { k, load, story } of ranked) {
    // Ends that differ by tenths of a second are fitted by the full comparison only.
    if (!isOfAll(story) && quickGain(detection, k, story) < needed - QUICK_MARGIN) continue;
    const changed = loads.map((one, j) => (j === k ? { ...load, onTimes: story.onTimes } : one));
    const told = judge(changed);
    const found = straysOf(load, told.responses[k], story, endS);
    if (found.length > 0 && gainOf(detection, told, loads) > needed)
      return { strays: found, detection: told, loads: changed };
  }
  return null;
}

/** Seconds by which a release must miss its mark: more than a hand is ever off. */
function guardS({ timeUncertaintyS }: MarkedLoad): number {
  return Math.max(1.5, 6 * timeUncertaintyS);
}

const EARLY_STEP_S = 0.5;
const LATE_STEP_S = 1;
/** Shortest on-time that is tried. */
const SHORTEST_S = 0.5;
/** Latest release that is tried, after the mark; beyond it only "to the end". */
const LATEST_S = 30;

/** Every other story of a load: one switching ends early or late, alone or for good, or each ends as early as the others. */
function storiesOf(load: MarkedLoad, endS: number): Story[] {
  const stories: Story[] = [];
  const guard = guardS(load);
  load.onTimes.forEach(({ onsetS, releaseS }, k) => {
    const nextS = load.onTimes[k + 1]?.onsetS ?? endS;
    const isLast = k === load.onTimes.length - 1;
    const tell = (atS: number, lasting: boolean) => {
      const earlier = load.onTimes.slice(0, k);
      const later = lasting ? [] : load.onTimes.slice(k + 1);
      const onTimes = [...earlier, { onsetS, releaseS: atS }, ...later];
      stories.push({ onTimes, switchings: [k], lasting });
    };
    for (let atS = onsetS + SHORTEST_S; atS <= releaseS - guard; atS += EARLY_STEP_S) {
      tell(atS, false);
      if (!isLast) tell(atS, true);
    }
    const latestS = Math.min(nextS - guard, releaseS + LATEST_S);
    for (let atS = releaseS + guard; atS <= latestS; atS += LATE_STEP_S) tell(atS, false);
    if (endS > releaseS + 2 * guard) tell(endS, !isLast);
  });
  const all = load.onTimes.map((_, k) => k);
  const shortestS = Math.min(...load.onTimes.map(({ onsetS, releaseS }) => releaseS - onsetS));
  for (let onS = SHORTEST_S; all.length > 1 && onS <= shortestS - guard; onS += EARLY_STEP_S) {
    const onTimes = load.onTimes.map(({ onsetS }) => ({ onsetS, releaseS: onsetS + onS }));
    stories.push({ onTimes, switchings: all, lasting: false });
  }
  return stories;
}

/** The story that the readings speak for most, beside the noise as marked. */
function bestStory(
  { design, fit, responses }: MarkedDetection,
  response: MarkedResponse,
  stories: readonly Story[],
): { readonly story: Story; readonly score: number } {
  const { series } = design;
  const shape = { ...response.shape, shiftS: response.refined === null ? response.shape.shiftS : 0 };
  const marked = dipTemplate(series.timesS, series.blockS, response.onTimes, shape);
  const others = responses.filter((one) => one !== response).map(({ template }) => template);
  const changes = stories.map((story) =>
    dipTemplate(series.timesS, series.blockS, ...toldBy(story, response, shape)).map((value, i) => value - marked[i]),
  );
  const common = [marked, ...others];
  const { columns } = design.columns(common, changes);
  const counts = { common: 2 + common.length, templates: changes.length };
  const { scores } = matchedScores(series, columns, counts, fit.noise, false);
  let best = 0;
  for (let j = 1; j < scores.length; j++) if (scores[j] > scores[best]) best = j;
  return { story: stories[best], score: scores[best] };
}

function overlap(some: readonly OnTime[], others: readonly OnTime[]): boolean {
  return some.some((a) => others.some((b) => a.onsetS < b.releaseS && b.onsetS < a.releaseS));
}

function isOfAll({ switchings }: Story): boolean {
  return switchings.length > 1;
}

/** Times and shape of a story; where all ended early, each from its fitted onset, and no inrush that was fitted to their ends. */
function toldBy(story: Story, { refined, onTimes }: MarkedResponse, shape: DipShape): [readonly OnTime[], DipShape] {
  if (!isOfAll(story)) return [story.onTimes, shape];
  const seen = story.onTimes.map(({ onsetS, releaseS }, k) => {
    const lateS = refined === null ? 0 : refined.onTimes[k].onsetS - onTimes[k].onsetS;
    return { onsetS: onsetS + lateS, releaseS: releaseS + lateS };
  });
  return [seen, { ...shape, inrush: 0, polarization: 0 }];
}

/** Gain in log likelihood of a story over the on-times as they stand, the shape of the dip held and the noise fitted anew. */
function quickGain({ design, prior, fit, responses }: MarkedDetection, k: number, story: Story): number {
  const { series } = design;
  const dips = responses.map((response, j) => {
    if (j !== k) return response.template;
    const shape = { ...response.shape, shiftS: response.refined === null ? response.shape.shiftS : 0 };
    return dipTemplate(series.timesS, series.blockS, story.onTimes, shape);
  });
  return fit.objective - fitNoise(design.explained(dips), prior, fit.logs).objective;
}

/** Gain in log likelihood, with what each pays for moving the switchings off their times. */
function gainOf(before: MarkedDetection, after: MarkedDetection, loads: readonly MarkedLoad[]): number {
  const paid = ({ responses }: MarkedDetection) =>
    responses.reduce((sum, response, k) => sum + movingCost(response, loads[k].timeUncertaintyS), 0);
  return before.fit.objective + paid(before) - after.fit.objective - paid(after);
}

function movingCost({ refined, onTimes }: MarkedResponse, timeUncertaintyS: number): number {
  if (refined === null) return 0;
  const u = Math.max(timeUncertaintyS, 0.02);
  return refined.onTimes.reduce(
    (sum, { onsetS, releaseS }, j) =>
      sum + 0.5 * (squared((onsetS - onTimes[j].onsetS) / u) + squared((releaseS - onTimes[j].releaseS) / u)),
    0,
  );
}

/** What a story says of the load; nothing where its dips are not clear, or a release fits its mark after all. */
function straysOf(load: MarkedLoad, response: MarkedResponse, story: Story, endS: number): StrayRelease[] {
  const { mean, sd } = mixtureMoments(response.depth);
  if (!(mean > CLEAR * sd)) return [];
  const strays = story.switchings.flatMap((k): StrayRelease[] => {
    const { onsetS, releaseS, isReleaseTold } = load.onTimes[k];
    const toldS = story.onTimes[k].releaseS;
    const fittedS = response.refined?.onTimes[k]?.releaseS ?? toldS;
    const toEnd = toldS === endS;
    if (!toEnd && Math.abs(fittedS - releaseS) < guardS(load) - 2 * load.timeUncertaintyS) return [];
    const markedS = isReleaseTold === false ? null : releaseS;
    return [{ load: load.id, onsetS, markedS, seenS: toEnd ? null : fittedS, lasting: story.lasting }];
  });
  return strays.length === story.switchings.length ? strays : [];
}
