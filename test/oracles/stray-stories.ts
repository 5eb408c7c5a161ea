import type { OnTime } from "../../src/core/detection/switching-template.js";

/** On-times of a story and whether it is told of all switchings together. */
export interface StrayStory {
  readonly onTimes: readonly OnTime[];
  readonly ofAll: boolean;
}

/**
 * Every story of a load other than its marks, one by one on the half and whole seconds of the rule: early from half a
 * second on in steps of half a second, alone or for good; late in whole seconds up to half a minute; to the end of the
 * readings; all of the same length. Releases keep `guardS` away from their mark and from the next switching on.
 */
export function strayStories(marked: readonly OnTime[], endS: number, guardS: number): StrayStory[] {
  const stories: StrayStory[] = [];
  const ended = (k: number, releaseS: number) => marked.map((one, j) => (j === k ? { ...one, releaseS } : one));
  for (let k = 0; k < marked.length; k++) {
    const { onsetS, releaseS } = marked[k]!;
    const roomS = (k + 1 < marked.length ? marked[k + 1]!.onsetS : endS) - guardS;
    for (let half = 1; half <= 1000; half++) {
      const atS = onsetS + half / 2;
      if (atS > releaseS - guardS) continue;
      stories.push({ onTimes: ended(k, atS), ofAll: false });
      if (k + 1 < marked.length) stories.push({ onTimes: ended(k, atS).slice(0, k + 1), ofAll: false });
    }
    for (let whole = 0; whole <= 30; whole++) {
      const atS = releaseS + guardS + whole;
      if (atS <= roomS && atS <= releaseS + 30) stories.push({ onTimes: ended(k, atS), ofAll: false });
    }
    if (endS - releaseS > 2 * guardS) stories.push({ onTimes: ended(k, endS).slice(0, k + 1), ofAll: false });
  }
  const shortestS = Math.min(...marked.map(({ onsetS, releaseS }) => releaseS - onsetS));
  for (let half = 1; marked.length > 1 && half / 2 <= shortestS - guardS; half++) {
    stories.push({ onTimes: marked.map(({ onsetS }) => ({ onsetS, releaseS: onsetS + half / 2 })), ofAll: true });
  }
  return stories;
}
