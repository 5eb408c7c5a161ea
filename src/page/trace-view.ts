import type { LogLook } from "./judge-messages.js";

/** The stretch of the recording that is shown, seconds. */
export interface GlanceView {
  readonly fromS: number;
  readonly toS: number;
}

/** Where a drawing was tapped, and how well that tells a time: standard uncertainty. */
export interface Tap {
  readonly timeS: number;
  readonly uncertaintyS: number;
  /** Whether it is fine enough for a mark. */
  readonly isFine: boolean;
}

/** How well a fingertip and a mouse hit a place, standard uncertainty in CSS pixels. Common practice, no source. */
const FINGER_PX = 10;
const MOUSE_PX = 2;
/** A coarser mark would reach beyond the shortest time that a load is left on. Common practice, no source. */
const COARSEST_MARK_S = 0.7;
/** What a tap is worth in the nearer view. */
const NEAR_MARK_S = 0.5;

const DRAWN_COLUMNS = 360;

/** The time of a place in the drawing, as a share of its width. */
export function tapAt(
  { fromS, toS }: GlanceView,
  share: number,
  { widthPx, isFinger }: { readonly widthPx: number; readonly isFinger: boolean },
): Tap {
  const uncertaintyS = ((isFinger ? FINGER_PX : MOUSE_PX) * (toS - fromS)) / widthPx;
  const timeS = Math.round(100 * (fromS + share * (toS - fromS))) / 100;
  return { timeS, uncertaintyS, isFine: uncertaintyS <= COARSEST_MARK_S };
}

/** A stretch about a tap in which the next tap will be fine enough. */
export function nearerView(whole: GlanceView, view: GlanceView, { timeS, uncertaintyS }: Tap): GlanceView {
  const lengthS = ((view.toS - view.fromS) * NEAR_MARK_S) / uncertaintyS;
  return within(whole, { fromS: timeS - lengthS / 2, toS: timeS + lengthS / 2 });
}

/** The view moved by a share of its length, and no further than the recording goes. */
export function shiftedView(whole: GlanceView, { fromS, toS }: GlanceView, share: number): GlanceView {
  const byS = share * (toS - fromS);
  return within(whole, { fromS: fromS + byS, toS: toS + byS });
}

function within(whole: GlanceView, { fromS, toS }: GlanceView): GlanceView {
  const fromInsideS = Math.max(whole.fromS, Math.min(fromS, whole.toS - (toS - fromS)));
  return { fromS: fromInsideS, toS: Math.min(whole.toS, fromInsideS + (toS - fromS)) };
}

/** Lowest and highest reading in each column of the drawing; columns without a reading are left out. */
export function columnsOf(
  { startS, endS, trace: { lowV, highV } }: LogLook,
  { fromS, toS }: GlanceView,
): readonly { readonly timeS: number; readonly lowV: number; readonly highV: number }[] {
  const stretchS = (endS - startS) / lowV.length;
  const columnS = (toS - fromS) / DRAWN_COLUMNS;
  const found = new Map<number, { timeS: number; lowV: number; highV: number }>();
  for (let i = 0; i < lowV.length; i++) {
    const timeS = startS + (i + 0.5) * stretchS;
    if (Number.isNaN(lowV[i]!) || timeS < fromS || timeS > toS) continue;
    const at = Math.floor((timeS - fromS) / columnS);
    const column = found.get(at);
    if (column === undefined) found.set(at, { timeS, lowV: lowV[i]!, highV: highV[i]! });
    else {
      column.lowV = Math.min(column.lowV, lowV[i]!);
      column.highV = Math.max(column.highV, highV[i]!);
    }
  }
  return [...found.values()];
}
