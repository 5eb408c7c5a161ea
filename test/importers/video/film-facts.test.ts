import { describe, expect, it } from "vitest";
import { sharedGainText } from "../../../src/importers/video/film-facts.js";

describe("sharedGainText", () => {
  it("warns where most of a movement may be the phone's, and not on a usual film", () => {
    expect(sharedGainText(0.004)).toContain("known to 0.40 %");
    expect(sharedGainText(0.004)).not.toContain("Caution");
    expect(sharedGainText(0.75)).toMatch(/known to 75 %.*Caution: .*film again with the phone at rest/);
  });
});
