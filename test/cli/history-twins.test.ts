import { describe, expect, it } from "vitest";
import { twinsText } from "../../src/cli/history-tables.js";

const twin = (day: number) => ({
  battery: "B-0417",
  atS: Date.UTC(2026, 2, day) / 1000,
  hashes: ["a".repeat(64), "b".repeat(64)] as const,
});

describe("twinsText()", () => {
  it("says which recordings may be one flight, and how to take one out", () => {
    expect(twinsText([])).toBeNull();
    expect(twinsText([twin(1)])).toMatch(
      /^Two recordings tell .* kept twice: aaaaaaaaaaaa and bbbbbbbbbbbb of battery B-0417, 2026-03-01\. If so, take one out with busdip history remove bbbbbbbbbbbb;/,
    );
    expect(twinsText([twin(1), twin(2)])).toMatch(/^2 pairs of recordings tell .*, first aaaaaaaaaaaa and/);
  });
});
