/** Moments shown of each dip, seconds from its beginning, and one after its end. */
const FROM_ONSET_S = [-0.5, 0, 0.2, 0.6];
const AFTER_RELEASE_S = 0.6;
/** Dips of which frames are shown; more would be looked through by nobody. */
const MOST_DIPS = 24;
/** Half the side of a picture around the pivot, in radii of the scale. */
export const SHOWN_RADII = 1.4;

/** A dip to be shown. */
export interface ShownDip {
  readonly onsetS: number;
  readonly releaseS: number | null;
}

/** Times of the frames that show each of the first 24 dips: before it, while it falls, in it, and after it. */
export function dipMoments(dips: readonly ShownDip[]): readonly (readonly number[])[] {
  return dips
    .slice(0, MOST_DIPS)
    .map(({ onsetS, releaseS }) => [
      ...FROM_ONSET_S.map((afterS) => onsetS + afterS),
      ...(releaseS === null ? [] : [releaseS + AFTER_RELEASE_S]),
    ]);
}
