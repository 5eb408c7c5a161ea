/** What a frame tells of where the needle stood. */
export interface Sighting {
  readonly timeS: number;
  /** Null where it was not read. */
  readonly volts: number | null;
  /** Whether the dial was seen and no needle on it. */
  readonly isHidden: boolean;
}

/** A break is farther than this share of the marked range: 2 V of 30. Dips of an essential bus are smaller, however quick the meter. */
const LEAST_SHARE = 1 / 15;
/** Within this a needle moves by a part of its way only: panel meters take longer to come anywhere (common practice, no source). */
const QUICKEST_S = 0.07;
/** Hidden for longer, the bus may have gone elsewhere meanwhile. */
const LONGEST_HIDING_S = 1;
/** A needle that comes by itself still moves, or settles, where it comes to: by more than this share of its way within so long. */
const AT_REST = 0.05;
const REST_S = 0.12;
/** It is back where it was within this share of its way. */
const BACK = 0.2;
/** What makes more than this share of a clip is no excursion from the rest of it. */
const MOST_OF_CLIP = 0.2;

/**
 * Which readings are of something that looks like the needle while that was hidden: a reflection, a pencil, a second hand.
 *
 * A stretch that is enclosed by two breaks of the track, after which the needle stands where it stood before: a needle's
 * own dip begins and ends by movement, as its meter's lag makes it, and a sweep does not come back through a break to the
 * same place.
 */
export function astray(sightings: readonly Sighting[], rangeV: number): boolean[] {
  const readings = readingsOf(sightings);
  const found = sightings.map(() => false);
  if (readings.length === 0) return found;
  const longestS = MOST_OF_CLIP * (readings.at(-1)!.timeS - readings[0]!.timeS);
  for (let next = 1; next < readings.length; next++) {
    if (!isJump(readings, next, rangeV)) continue;
    const back = comesBack(readings, next, rangeV, longestS);
    if (back === null) continue;
    for (const { frame } of readings.slice(next, back)) found[frame] = true;
    next = back;
  }
  return found;
}

interface Reading {
  readonly frame: number;
  readonly timeS: number;
  readonly volts: number;
  /** Whether the needle was hidden in a frame since the one before. */
  readonly afterHiding: boolean;
}

function readingsOf(sightings: readonly Sighting[]): Reading[] {
  let afterHiding = false;
  return sightings.flatMap(({ timeS, volts, isHidden }, frame) => {
    if (volts === null) {
      afterHiding ||= isHidden;
      return [];
    }
    const reading = { frame, timeS, volts, afterHiding };
    afterHiding = false;
    return reading;
  });
}

const wayTo = (readings: readonly Reading[], next: number) =>
  Math.abs(readings[next]!.volts - readings[next - 1]!.volts);

/** Whether a reading is elsewhere than the one before, between which no needle comes to rest, or none was seen. */
function isJump(readings: readonly Reading[], next: number, rangeV: number): boolean {
  const apartS = readings[next]!.timeS - readings[next - 1]!.timeS;
  const wasHidden = readings[next]!.afterHiding && apartS <= LONGEST_HIDING_S;
  return wayTo(readings, next) > LEAST_SHARE * rangeV && (apartS < QUICKEST_S || wasHidden);
}

/** Whether the needle stands still from a reading on, or up to it, among those between two places in the list. */
function rests(readings: readonly Reading[], from: number, to: number, way: number): boolean {
  const { timeS, volts } = readings[from]!;
  const step = Math.sign(to - from);
  for (let at = from + step; at !== to + step && at >= 0 && at < readings.length && step !== 0; at += step) {
    if (Math.abs(readings[at]!.timeS - timeS) > REST_S) break;
    if (Math.abs(readings[at]!.volts - volts) > AT_REST * way) return false;
  }
  return true;
}

/** The first reading beyond a later jump to where the needle stood, if it stood still before and after both; else null. */
function comesBack(readings: readonly Reading[], next: number, rangeV: number, longestS: number): number | null {
  const [before, way] = [readings[next - 1]!.volts, wayTo(readings, next)];
  if (!rests(readings, next - 1, 0, way)) return null;
  for (let at = next + 1; at < readings.length; at++) {
    if (readings[at - 1]!.timeS - readings[next]!.timeS > longestS) return null;
    if (Math.abs(readings[at]!.volts - before) > BACK * way || !isJump(readings, at, rangeV)) continue;
    const stoodStill =
      rests(readings, next, at - 1, way) &&
      rests(readings, at - 1, next, way) &&
      rests(readings, at, readings.length - 1, way);
    return stoodStill ? at : null;
  }
  return null;
}
