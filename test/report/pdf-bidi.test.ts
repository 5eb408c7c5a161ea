import { describe, expect, it } from "vitest";
import { readReportFonts } from "../../src/cli/report-fonts.js";
import { recordData } from "../../src/report/embedded-data.js";
import { renderPdfRecord } from "../../src/report/pdf.js";
import { directedLines, needsOrdering } from "../../src/report/pdf-bidi.js";
import { recordInputs } from "../../src/report/record-inputs.js";
import { ice2Analysis, ice2Context } from "./analysis-fixtures.js";
import { pageTexts, pdfInside } from "./pdf-inside.js";

/** As in UAX 9, capital letters stand for letters that run from right to left. */
const hebrew = (text: string) =>
  text.replace(/[A-Z]/g, (letter) => String.fromCharCode(0x5d0 + letter.charCodeAt(0) - 65));
const latin = (text: string) =>
  text.replace(/[\u05d0-\u05ea]/g, (letter) => String.fromCharCode(letter.charCodeAt(0) - 0x5d0 + 65));
const monospaced = (text: string) => text.length;
/** The text as it stands on paper, line by line. */
const shown = (text: string, width = 1000) =>
  directedLines(hebrew(text), width, monospaced).map(({ runs }) =>
    latin(runs.map((run) => (run.rightToLeft ? [...run.text].reverse().join("") : run.text)).join("")),
  );

describe("directedLines()", () => {
  // Unicode Standard Annex 9, 3.4, examples of rule L2 (from memory): order in memory and as displayed.
  it.each([
    ["car means CAR.", "car means RAC."],
    ["\u2067car MEANS CAR.\u2069", ".RAC SNAEM car"],
    ["he said \u201c\u2067car MEANS CAR\u2069.\u201d", "he said \u201cRAC SNAEM car.\u201d"],
  ])("shows %s as UAX 9 does", (stored, displayed) => {
    expect(shown(stored)).toEqual([displayed]);
  });

  // UAX 9, L4: a bracket that runs from right to left is drawn as its mirror image.
  it("mirrors brackets and leaves numbers as they are read", () => {
    expect(shown("ABC (12) DE")).toEqual(["ED (12) CBA"]);
  });

  it("begins at the right where the first letter outside of labels does, and breaks lines in reading order", () => {
    const [first, second, ...more] = directedLines(hebrew("AB CD EF GH"), 6, monospaced);
    expect(more).toEqual([]);
    expect(first!.fromRight).toBe(true);
    expect(
      [first, second].map((line) =>
        latin(
          line!.runs
            .map((run) => run.text)
            .join("")
            .trim(),
        ),
      ),
    ).toEqual(["AB CD", "EF GH"]);
    expect(directedLines(hebrew("\u2068AB\u2069: responded"), 99, monospaced)[0]!.fromRight).toBe(false);
  });

  it("breaks a word that is wider than the line, and never loses a letter", () => {
    const text = hebrew("ABCDEFGHIJ K");
    const lines = directedLines(text, 4, monospaced);
    expect(lines.length).toBeGreaterThan(2);
    expect(lines.flatMap(({ runs }) => runs.map((run) => run.text)).join("")).toBe(text);
  });
});

describe("renderPdfRecord() with labels from right to left", () => {
  const name = "\u05d7\u05d9\u05de\u05d5\u05dd \u05e6\u05d9\u05e0\u05d5\u05e8 12";
  const arabic = "\u0633\u062e\u0627\u0646 \u0627\u0644\u0645\u062c\u0633";
  const analysis = {
    ...ice2Analysis,
    loads: ice2Analysis.loads.map((load, i) => ({ ...load, name: [name, arabic][i] ?? load.name })),
  };
  const given = {
    profileText: null,
    marksText: null,
    options: { falseAlarmRate: 0.01, power: 0.95, markUncertaintyS: 0.2, seed: 1 },
    judgementSha256: "5".repeat(64),
  };
  const inputs = recordInputs({ timesS: Float64Array.of(0, 1), voltagesV: Float64Array.of(24, 24) }, given);
  const made = readReportFonts().then((fonts) =>
    renderPdfRecord(analysis, { ...ice2Context, record: recordData(analysis, ice2Context, inputs), fonts }),
  );

  it("sets words and letters from right to left, and a number among them as it is read", async () => {
    const text = pageTexts(pdfInside(await made))[0]!.replace(/\n/g, "");
    const [first, second] = name.split(" ").map((word) => [...word].reverse().join(""));
    expect(text).toContain("12");
    expect(text).toMatch(new RegExp(`${second} ?${first}`));
    expect(text).not.toContain(name.split(" ")[0]);
  });

  it("joins Arabic letters: the first letter of a word is not drawn as the same letter at its end", async () => {
    const { objects } = pdfInside(await made);
    const maps = [...objects.values()].flatMap(
      ({ stream }) => stream?.toString("latin1").match(/beginbfrange[\s\S]*endbfrange/) ?? [],
    );
    // U+0633 stands first in the one word and last in the other; both glyphs map to it.
    expect(maps.join("").match(/<0633>/g)!.length).toBeGreaterThanOrEqual(2);
  });

  it("tells readers by ear the label as it is read", async () => {
    const { text } = pdfInside(await made);
    const utf16 = Buffer.from(`\ufeff${name}`, "utf16le").swap16().toString("latin1");
    expect(needsOrdering(name)).toBe(true);
    expect(text.replace(/\\([()\\])/g, "$1").replace(/\\r/g, "\r")).toContain(`/ActualText (${utf16})`);
  });
});
