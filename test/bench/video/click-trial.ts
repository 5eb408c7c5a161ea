import { type RandomSource, randomSource } from "../../../samples/simulator/random-source.js";
import type { Dial } from "../../../src/importers/video/dial.js";
import { findDial, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { MARK_SETS, type StillDial } from "./still-dial.js";

interface Mark {
  x: number;
  y: number;
  volts: number;
}

/** What a person did to the marks and the pivot, beside ordinary unsteadiness. */
export interface ClickFault {
  readonly kind: string;
  /** Whether such clicks are no fault: they must be taken. */
  readonly isOrdinary?: true;
  apply(clicks: { marks: Mark[]; pivot: { x: number; y: number } }, dial: StillDial, random: RandomSource): void;
}

const DIRECTIONS = 8;

function shifted(px: number, turn: number, withPivot: boolean): ClickFault {
  const [x, y] = [px * Math.cos(turn), px * Math.sin(turn)];
  return {
    kind: `${withPivot ? "all" : "marks only"} off by ${px} px`,
    apply(clicks) {
      for (const place of withPivot ? [...clicks.marks, clicks.pivot] : clicks.marks) {
        place.x += x;
        place.y += y;
      }
    },
  };
}

function turned(deg: number): ClickFault {
  const [cos, sin] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
  return {
    kind: `turned by ${Math.abs(deg)} deg`,
    apply: ({ marks, pivot }) => turnAbout(marks, pivot, cos, sin),
  };
}

function turnAbout(marks: Mark[], pivot: { x: number; y: number }, cos: number, sin: number): void {
  for (const mark of marks) {
    const [x, y] = [mark.x - pivot.x, mark.y - pivot.y];
    mark.x = pivot.x + cos * x - sin * y;
    mark.y = pivot.y + sin * x + cos * y;
  }
}

/** Marks turned about the pivot until each stands on a neighbouring stroke (as far as the scale is even). */
function turnedByStrokes(strokes: number): ClickFault {
  return {
    kind: `turned by ${Math.abs(strokes)} stroke${Math.abs(strokes) === 1 ? "" : "s"}`,
    apply({ marks }, dial) {
      for (const mark of marks) {
        const [from, to] = [dial.markAt(mark.volts), dial.markAt(mark.volts + strokes)];
        mark.x += to.x - from.x;
        mark.y += to.y - from.y;
      }
    },
  };
}

function oneWrong(px: number): ClickFault {
  return {
    kind: `one mark off by ${px} px along the scale`,
    apply({ marks }, dial, random) {
      const mark = marks[Math.floor(random.uniform() * marks.length)]!;
      const [from, to] = [dial.markAt(mark.volts - 0.5), dial.markAt(mark.volts + 0.5)];
      const size = (random.uniform() < 0.5 ? -px : px) / Math.hypot(to.x - from.x, to.y - from.y);
      mark.x += size * (to.x - from.x);
      mark.y += size * (to.y - from.y);
    },
  };
}

function oneOnNeighbour(strokes: number): ClickFault {
  return {
    kind: `one mark ${strokes} stroke${strokes === 1 ? "" : "s"} off`,
    apply({ marks }, dial, random) {
      const mark = marks[Math.floor(random.uniform() * marks.length)]!;
      const inwards = mark.volts < 15 ? strokes : -strokes;
      const [from, to] = [dial.markAt(mark.volts), dial.markAt(mark.volts + inwards)];
      mark.x += to.x - from.x;
      mark.y += to.y - from.y;
    },
  };
}

function wrongVolts(byV: number): ClickFault {
  return {
    kind: `one mark's volts wrong by ${byV}`,
    apply({ marks }, _, random) {
      const mark = marks[Math.floor(random.uniform() * marks.length)]!;
      mark.volts += mark.volts < 15 ? byV : -byV;
    },
  };
}

const SWAPPED: ClickFault = {
  kind: "two marks swapped",
  apply({ marks }, _, random) {
    const first = Math.floor(random.uniform() * (marks.length - 1));
    const [one, other] = [marks[first]!, marks[first + 1]!];
    [one.volts, other.volts] = [other.volts, one.volts];
  },
};

const ALL_ALIKE: ClickFault["apply"] = () => {};

/** Every fault in turn; directions of a shift count one each. */
export function clickFaults(): ClickFault[] {
  const faults: ClickFault[] = Array.from({ length: 4 }, () => ({
    kind: "ordinary",
    isOrdinary: true as const,
    apply: ALL_ALIKE,
  }));
  for (const px of [2, 4, 6, 8, 10, 12, 16, 20]) {
    for (let k = 0; k < DIRECTIONS; k++) faults.push(shifted(px, (2 * Math.PI * k) / DIRECTIONS, true));
  }
  for (const px of [4, 8, 12, 20]) {
    for (let k = 0; k < 4; k++) faults.push(shifted(px, (2 * Math.PI * k) / 4, false));
  }
  for (const deg of [1, 2, 3, 5]) faults.push(turned(deg), turned(-deg));
  for (const strokes of [1, 2]) faults.push(turnedByStrokes(strokes), turnedByStrokes(-strokes));
  for (const px of [6, 10, 20]) faults.push(oneWrong(px), oneWrong(px));
  for (const strokes of [1, 2]) faults.push(oneOnNeighbour(strokes), oneOnNeighbour(strokes));
  for (const byV of [1, 2, 4]) faults.push(wrongVolts(byV), wrongVolts(byV));
  faults.push(SWAPPED, SWAPPED);
  return faults;
}

/** What became of one set of clicks: refused, or read with these errors over their stated standard uncertainties. */
export type ClickOutcome =
  | { readonly kind: "refused"; readonly code: string }
  | {
      readonly kind: "read";
      readonly offsetV: number;
      readonly uOffsetV: number;
      readonly gainError: number;
      readonly uGain: number;
    };

/** Clicks of 1 px on marks and 3 px on the pivot (standard deviations along each axis) with a fault, read. */
export async function clickTrial(
  dial: StillDial,
  markSet: number,
  fault: ClickFault,
  seed: number,
): Promise<ClickOutcome> {
  const random = randomSource(seed);
  const near = ({ x, y }: { x: number; y: number }, sd: number) => ({
    x: x + sd * random.normal(),
    y: y + sd * random.normal(),
  });
  const clicks = {
    pivot: near(dial.pivot, 3),
    marks: MARK_SETS[markSet]!.map((volts) => ({ ...near(dial.markAt(volts), 1), volts })),
  };
  fault.apply(clicks, dial, random);
  const { source, timesS, truthV } = dial;
  const still = { timeS: timesS[0]!, width: source.width, height: source.height };
  const found = await findDial(source, { dial: { still, ...clicks } satisfies Dial });
  if (found.kind === "question") return { kind: "refused", code: found.code };
  let reading: Awaited<ReturnType<typeof readNeedle>>;
  try {
    reading = await readNeedle(source, found);
  } catch {
    return { kind: "refused", code: "needle not followed" };
  }
  const errors = [...reading.voltagesV].map((volts, at) => volts - truthV[timesS.indexOf(reading.timesS[at]!)]!);
  const isDip = (at: number) => reading.timesS[at]! >= timesS[timesS.length >> 1]!;
  const before = mean(errors.filter((_, at) => !isDip(at)));
  const during = mean(errors.filter((_, at) => isDip(at)));
  return {
    kind: "read",
    offsetV: before,
    uOffsetV: reading.offsetUncertaintyV,
    gainError: (during - before) / (truthV.at(-1)! - truthV[0]!),
    uGain: reading.gainUncertainty,
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
