import type { Switching } from "../detection/switching.js";
import type { SourceAnswer } from "../estimation/source-from-recording.js";
import type { Assumption, RankedLoads } from "../notes.js";
import type { LoadProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { JudgedResponse } from "./judged-response.js";
import { expectedCurrent, rankLoads } from "./load-ranking.js";

/** More loads on one switch than this are not told apart by size. */
const MOST_SHARERS = 4;

/**
 * Which of the loads on one switch drew current, by the size of their common dip, likeliest first.
 *
 * Every set of them is held against the dip as one load whose currents add up. Empty where the current of one of them or
 * the source resistance is not known.
 */
function rankTogether(
  depth: Uncertain,
  busV: number,
  sharers: readonly LoadProfile[],
  resistanceOhm: Uncertain,
): readonly RankedLoads[] {
  const currents = sharers.map((load) => expectedCurrent(load, busV));
  if (sharers.length > MOST_SHARERS || currents.some((current) => current === null)) return [];
  const sets = Array.from({ length: (1 << sharers.length) - 1 }, (_, k) =>
    sharers.flatMap((_load, i) => (((k + 1) >> i) & 1 ? [i] : [])),
  );
  const asLoads = sets.map((set, k): LoadProfile => {
    const currentA = set.reduce((sum, i) => sum + currents[i]!.value, 0);
    const u = rootSumSquares(...set.map((i) => currents[i]!.u));
    const toleranceFraction = (u * Math.sqrt(3)) / currentA;
    return { id: String(k), kind: "constant-current", rated: { currentA, toleranceFraction }, reference: false };
  });
  return rankLoads({ depth, busV, inrush: null }, asLoads, resistanceOhm).map(({ load, probability }) => ({
    loads: sets[Number(load)].map((i) => sharers[i].id),
    probability,
  }));
}

/** Rankings of the dips of shared switches, where the profile's currents and resistances allow one. */
export function rankSharers(
  judged: readonly JudgedResponse[],
  switching: Switching,
  source: SourceAnswer,
  falseAlarmRate: number,
): readonly Assumption[] {
  if (!source.known) return [];
  return judged.flatMap((one): readonly Assumption[] => {
    const load = switching.loads.find(({ id }) => id === one.response.id);
    if (load === undefined || load.profile === null || load.twins.length === 0) return [];
    if (one.pValue > falseAlarmRate || !(one.depth.value > 0)) return [];
    const ranked = rankTogether(one.depth, one.dips[0]?.referenceV ?? 0, [load.profile, ...load.twins], {
      value: source.resistanceOhm,
      u: source.uOhm,
    });
    return ranked.length === 0 ? [] : [{ code: "sharers-ranked", load: load.id, ranked }];
  });
}
