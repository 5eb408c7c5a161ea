import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { fieldName, inPageWords, LOG_FIELDS } from "../../src/page/page-words.js";

const messages = readFileSync(fileURLToPath(new URL("../../samples/messages.md", import.meta.url)), "utf8");

/** Each sentence that a file chosen in the page can get, by the part of the page of messages. */
function sentencesOf(...parts: string[]): string[] {
  return parts.flatMap((part) => {
    const [, rows] = messages.split(`## ${part}\n`);
    return rows!
      .split("\n## ")[0]!
      .split("\n")
      .filter((line) => /^\| .* \| .* \|$/.test(line) && !line.includes("what to do"))
      .flatMap((line) => {
        const [problem, remedies] = line.slice(2, -2).split(" | ");
        return remedies!.split(" / ").map((remedy) => `${problem}; ${remedy.replaceAll("--…-", "--voltage-")}`);
      });
  });
}

describe("what the page says in its own words", () => {
  it("names no option of the command line in any refusal of a log, a profile, marks or a clip", () => {
    // One file is chosen in the page, so none can start anew after another.
    const sentences = sentencesOf("Logs", "Profile and marks", "Film clips and dials").filter(
      (one) => !one.includes("--file-gap"),
    );
    expect(sentences.length).toBeGreaterThan(60);
    expect(sentences.map(inPageWords).filter((one) => /--[a-z]/.test(one))).toEqual([]);
    expect(sentences.map(inPageWords).filter((one) => !/; \S/.test(one))).toEqual([]);
  });

  it("leaves out what the page cannot do and which option would overrule", () => {
    expect(
      inPageWords(
        "no voltage column was found (column 2 'a'); name it with --voltage-column, or give a log of the voltage and this one with --current",
      ),
    ).toBe(`no voltage column was found (column 2 'a'); name it with "Voltage column"`);
    expect(
      inPageWords("time taken from column 1, read as seconds (--time-column, --time-format and --time-unit overrule)"),
    ).toBe("time taken from column 1, read as seconds");
    expect(inPageWords("no time column; name it with --time-column, or say --interval SECONDS")).toBe(
      `no time column; name it with "Time column", or say "Interval (s)"`,
    );
  });

  it("has another name for each field", () => {
    const names = LOG_FIELDS.map(fieldName);
    expect(new Set(names).size).toBe(names.length);
  });
});
