import type { DialPointing } from "./dial-pointing.js";

interface Place {
  readonly x: number;
  readonly y: number;
}

type Scale = Pick<DialPointing, "pivot" | "marks">;

/** Direction from the pivot to a place, radians, clockwise since y runs down. */
function directionRad(pivot: Place, place: Place): number {
  return Math.atan2(place.y - pivot.y, place.x - pivot.x);
}

/** What keeps a dial from being read with, in one sentence; null where nothing does. */
export function dialProblem({ pivot, marks }: Scale): string | null {
  if (marks.length < 2) return "Point out two marks of the scale or more.";
  if (marks.some(({ volts }) => !Number.isFinite(volts))) return "Type the volts of each mark.";
  if (new Set(marks.map(({ volts }) => volts)).size < marks.length) return "Two marks carry the same volts.";
  const nearest = Math.min(...marks.map((mark) => Math.hypot(mark.x - pivot.x, mark.y - pivot.y)));
  if (nearest < 10) return "A mark lies on the pivot; move it onto the scale.";
  const { turnsRad } = turnsOf({ pivot, marks });
  const rising = turnsRad.every((turn, i) => i === 0 || turn > turnsRad[i - 1]!);
  const falling = turnsRad.every((turn, i) => i === 0 || turn < turnsRad[i - 1]!);
  return rising || falling ? null : "The marks do not stand in the order of their volts around the pivot.";
}

/** Volts of a direction by straight lines between the marks, and along the outermost two beyond them. */
export function voltsAt(scale: Scale, angleRad: number): number {
  const { volts, turnsRad, firstRad } = turnsOf(scale);
  const last = turnsRad.at(-1)!;
  // Of all the same directions, the one nearest to the middle of the scale.
  const turn = last / 2 + shorter(angleRad - firstRad - last / 2);
  const way = last >= 0 ? 1 : -1;
  let i = 0;
  while (i < turnsRad.length - 2 && way * turn > way * turnsRad[i + 1]!) i++;
  const share = (turn - turnsRad[i]!) / (turnsRad[i + 1]! - turnsRad[i]!);
  return volts[i]! + share * (volts[i + 1]! - volts[i]!);
}

/** How far beyond the outermost marks a needle may stand, as a share of the volts between them. */
const BEYOND_SHARE = 0.15;

/** Whether a needle stands so far beyond the marks that they will hardly be where they should. */
export function isFarBeyond({ marks }: Pick<Scale, "marks">, volts: number): boolean {
  const all = marks.map((mark) => mark.volts);
  const [least, most] = [Math.min(...all), Math.max(...all)];
  return volts < least - BEYOND_SHARE * (most - least) || volts > most + BEYOND_SHARE * (most - least);
}

/** Turn of each mark from the first in the order of volts, each step the shorter way round. */
function turnsOf({ pivot, marks }: Scale): {
  readonly volts: readonly number[];
  readonly turnsRad: readonly number[];
  readonly firstRad: number;
} {
  const sorted = [...marks].sort((a, b) => a.volts - b.volts);
  const directions = sorted.map((mark) => directionRad(pivot, mark));
  const turnsRad: number[] = [0];
  for (let i = 1; i < directions.length; i++)
    turnsRad.push(turnsRad[i - 1]! + shorter(directions[i]! - directions[i - 1]!));
  return { volts: sorted.map(({ volts }) => volts), turnsRad, firstRad: directions[0]! };
}

function shorter(turnRad: number): number {
  const turn = turnRad % (2 * Math.PI);
  return turn > Math.PI ? turn - 2 * Math.PI : turn < -Math.PI ? turn + 2 * Math.PI : turn;
}
