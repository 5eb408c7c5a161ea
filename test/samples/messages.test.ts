import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { messagesPage } from "../../samples/refusals.js";

const page = readFileSync(new URL("../../samples/messages.md", import.meta.url), "utf8");

describe("samples/messages.md", () => {
  it("holds every sentence that bad input can get; npx tsx samples/make-messages.ts writes it again", () => {
    expect(page).toBe(messagesPage());
  });

  it("names a way out beside each", () => {
    const rows = page.split("\n").filter((line) => line.startsWith("| ") && !line.startsWith("| what is wrong"));
    expect(rows.length).toBeGreaterThan(80);
    for (const row of rows) expect(row).toMatch(/^\| \S.* \| \S.* \|$/);
  });
});
