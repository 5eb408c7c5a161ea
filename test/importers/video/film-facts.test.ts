import { describe, expect, it } from "vitest";
import { filmFacts, sharedGainText } from "../../../src/importers/video/film-facts.js";
import type { NeedleReading } from "../../../src/importers/video/needle-reading.js";

const readingOf = (gainUncertainty: number) =>
  ({
    timesS: new Float64Array(3),
    frameQuality: [],
    offsetUncertaintyV: 0.02,
    gainUncertainty,
    gaps: [],
    dial: { scaleFrom: "marks", marks: [] },
  }) as unknown as NeedleReading;

describe("sharedGainText()", () => {
  it("says how well the scale is known", () => {
    expect(sharedGainText(0.0041)).toContain("known to 0.41 %");
  });
});

describe("filmFacts()", () => {
  it("warns where most of a movement may be something else than the needle's, and not on a usual film", () => {
    expect(filmFacts("a decoder", readingOf(0.004)).join()).not.toContain("caution");
    expect(filmFacts("a decoder", readingOf(0.75)).join()).toMatch(/caution: .*film again with the phone at rest/);
  });

  it("tells of frames in which something else looked like the needle, however short", () => {
    const frameQuality = [null, "needle-astray", "needle-hidden"].map((fault) => ({ fault }));
    const reading = { ...readingOf(0.004), frameQuality } as unknown as NeedleReading;
    expect(filmFacts("a decoder", reading).join()).toMatch(/caution: in 1 frames something .* looks like the needle/);
  });
});
