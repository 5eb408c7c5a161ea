import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { dataText } from "./data-files.js";

describe("copied data", () => {
  it("every file has the bytes that SHA256SUMS names", () => {
    const lines = dataText("SHA256SUMS").trim().split("\n");
    expect(lines.length).toBeGreaterThan(50);
    const changed = lines
      .map((line) => line.split(/\s+/))
      .filter(([sum, name]) => {
        const bytes = readFileSync(new URL(`data/${name}`, import.meta.url));
        return createHash("sha256").update(bytes).digest("hex") !== sum;
      });
    expect(changed).toEqual([]);
  });
});
