import { describe, expect, it } from "vitest";
import { needleVolts } from "../../../samples/footage/needle-motion.js";
import { astray, type Sighting } from "../../../src/importers/video/needle-astray.js";

const RANGE_V = 30;
const DURATION_S = 8;

interface Film {
  readonly framesPerS?: number;
  readonly volts: (timeS: number) => number;
  /** Frames that are missing, and frames in which no needle is seen. */
  readonly isDropped?: (timeS: number) => boolean;
  readonly isHidden?: (timeS: number) => boolean;
}

function sightingsOf({ framesPerS = 30, volts, isDropped, isHidden }: Film): Sighting[] {
  return Array.from({ length: DURATION_S * framesPerS }, (_, frame) => frame / framesPerS)
    .filter((timeS) => isDropped?.(timeS) !== true)
    .map((timeS) => {
      const hidden = isHidden?.(timeS) === true;
      return { timeS, volts: hidden ? null : volts(timeS), isHidden: hidden };
    });
}

const strayTimes = (film: Film) => {
  const sightings = sightingsOf(film);
  return astray(sightings, RANGE_V).flatMap((isAstray, at) => (isAstray ? sightings[at]!.timeS : []));
};

const isWithin = (timeS: number, fromS: number, toS: number) => timeS >= fromS && timeS < toS;

describe("astray()", () => {
  it.each([
    [0.03, 0],
    [0.1, 0],
    [0.4, 0],
    [1.5, 0],
    [0.4, 0.2],
    [0.4, 0.9],
    [1, 0.5],
  ])("finds a double for %d s, the needle unseen for %d s before and after", (lengthS, hiddenS) => {
    const [fromS, toS] = [3.01, 3.01 + lengthS];
    const found = strayTimes({
      volts: (timeS) => (isWithin(timeS, fromS, toS) ? 22 : 24.6) - 0.002 * timeS,
      isHidden: (timeS) => isWithin(timeS, fromS - hiddenS, fromS) || isWithin(timeS, toS, toS + hiddenS),
    });
    const expected = sightingsOf({ volts: () => 0 }).filter(({ timeS }) => isWithin(timeS, fromS, toS));
    expect(found).toEqual(expected.map(({ timeS }) => timeS));
  });

  it("finds two doubles at two places, and one beside a real dip", () => {
    const dip = needleVolts(bus([{ onS: 4.5, offS: 6, depthV: 0.3 }], 2.2, 0.65), DURATION_S);
    const found = strayTimes({
      volts: (timeS) => (isWithin(timeS, 1.01, 1.3) ? 20 : isWithin(timeS, 3.01, 3.4) ? 27.5 : dip(timeS)),
    });
    expect(found.every((timeS) => isWithin(timeS, 1.01, 1.3) || isWithin(timeS, 3.01, 3.4))).toBe(true);
    const expected = sightingsOf({ volts: () => 0 }).filter(
      ({ timeS }) => isWithin(timeS, 1.01, 1.3) || isWithin(timeS, 3.01, 3.4),
    );
    expect(found.length).toBe(expected.length);
  });

  const meters = [
    [2.2, 0.65],
    [6, 0.5],
    [12, 0.6],
  ] as const;
  it.each(meters.flatMap(([hz, damping]) => [0.02, 0.3, 1].map((depthV) => [depthV, hz, damping] as const)))(
    "takes no reading off a dip of %d V of a meter of %d Hz, with frames missing or the needle hidden about its edges",
    (depthV, hz, damping) => {
      for (const onTimeS of [0.1, 0.4, 1.2]) {
        const dip = { onS: 3, offS: 3 + onTimeS, depthV };
        const volts = needleVolts(bus([dip], hz, damping), DURATION_S);
        for (const framesPerS of [12, 30, 60]) {
          for (const aboutS of [0, 0.1, 0.3, 0.6]) {
            const isAbout = (timeS: number) =>
              [dip.onS, dip.offS].some((edgeS) => Math.abs(timeS - edgeS - 0.3 * aboutS) < aboutS / 2);
            expect(strayTimes({ framesPerS, volts, isDropped: isAbout })).toEqual([]);
            expect(strayTimes({ framesPerS, volts, isHidden: isAbout })).toEqual([]);
          }
        }
      }
    },
  );

  it.each([0.02, 0.5, 1, 1.9])("takes nothing off a dip of %d V that begins and ends within a frame", (depthV) => {
    expect(strayTimes({ volts: (timeS) => 24.6 - (isWithin(timeS, 3, 3.5) ? depthV : 0) })).toEqual([]);
  });

  it.each(meters)("takes nothing off the bus going away and coming back through a meter of %d Hz", (hz, damping) => {
    // A needle of 12 Hz is stopped at zero within a frame: no panel meter's is.
    for (const depthV of hz < 12 ? [3, 8, 24.6] : [3, 8]) {
      for (const onTimeS of [0.2, 0.5, 1.5]) {
        const volts = needleVolts(bus([{ onS: 3, offS: 3 + onTimeS, depthV }], hz, damping), DURATION_S);
        for (const framesPerS of [12, 30, 60]) expect(strayTimes({ framesPerS, volts })).toEqual([]);
      }
    }
  });

  it("takes nothing off what ends elsewhere, lasts, or leaves only once", () => {
    expect(strayTimes({ volts: (timeS) => (timeS < 3 ? 24.6 : timeS < 3.5 ? 20 : 27.6) })).toEqual([]);
    expect(strayTimes({ volts: (timeS) => (isWithin(timeS, 2, 5) ? 20 : 24.6) })).toEqual([]);
    expect(strayTimes({ volts: (timeS) => (timeS < 7 ? 24.6 : 20) })).toEqual([]);
    expect(astray([], RANGE_V)).toEqual([]);
    expect(strayTimes({ volts: () => 24, isHidden: () => true })).toEqual([]);
  });
});

function bus(dips: readonly { onS: number; offS: number; depthV: number }[], needleHz: number, needleDamping: number) {
  return { openCircuitV: 24.6, slopeVPerS: -0.002, needleHz, needleDamping, dips };
}
