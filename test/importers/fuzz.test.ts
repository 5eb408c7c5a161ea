import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { importLogs } from "../../src/importers/csv/csv-importer.js";
import { InputError } from "../../src/importers/input-error.js";
import { anyDialect, anyReadings, writeLog } from "./csv/dialect-writer.js";

/** Reads the bytes; a recording of finite numbers in order, or one clear sentence, is all that may come of it. */
async function expectReadingOrSentence(bytes: Uint8Array): Promise<void> {
  const file = { name: "log.csv", size: bytes.length, open: () => [bytes] };
  try {
    const { recording } = await importLogs([file], "voltage", {});
    if (recording === null) return;
    expect(recording.timesS.length).toBe(recording.voltagesV.length);
    expect(recording.voltagesV.every(Number.isFinite)).toBe(true);
    expect(
      recording.timesS.every((time, i) => Number.isFinite(time) && (i === 0 || time >= recording.timesS[i - 1]!)),
    ).toBe(true);
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    expect(fault.message).toMatch(/^log\.csv(, line \d+)?: [^\n\r]+; [^\n\r]+$/);
  }
}

const someLog = fc.tuple(anyDialect, anyReadings).map(([dialect, readings]) => writeLog(dialect, readings));

describe("importLogs()", () => {
  it("makes a recording or one sentence of random bytes", async () => {
    await fc.assert(fc.asyncProperty(fc.uint8Array({ maxLength: 2000 }), expectReadingOrSentence), { numRuns: 300 });
  });

  it("makes a recording or one sentence of random text", async () => {
    const piece = fc.constantFrom(
      "0",
      "1",
      "27.3",
      ",",
      ";",
      "\t",
      "\n",
      '"',
      "-",
      ":",
      "/",
      " ",
      "V",
      "time",
      "#",
      "e",
      "µ",
      "NaN",
      "2026-03-02",
    );
    const text = fc.array(piece, { maxLength: 300 }).map((parts) => Buffer.from(parts.join("")));
    await fc.assert(fc.asyncProperty(text, expectReadingOrSentence), { numRuns: 500 });
  });

  it("makes a recording or one sentence of a log cut anywhere", async () => {
    const cut = fc
      .tuple(someLog, fc.double({ min: 0, max: 1, noNaN: true }))
      .map(([log, at]) => log.slice(0, at * log.length));
    await fc.assert(fc.asyncProperty(cut, expectReadingOrSentence), { numRuns: 200 });
  });

  it("makes a recording or one sentence of a log with bytes changed, lost and added", async () => {
    const edit = fc.record({
      at: fc.nat(),
      byte: fc.integer({ min: 0, max: 255 }),
      kind: fc.constantFrom("change", "lose", "add"),
    });
    const edited = fc.tuple(someLog, fc.array(edit, { minLength: 1, maxLength: 12 })).map(([log, edits]) => {
      const bytes = [...log];
      for (const { at, byte, kind } of edits) {
        const place = at % (bytes.length + 1);
        if (kind === "change") bytes[place] = byte;
        else if (kind === "lose") bytes.splice(place, 1);
        else bytes.splice(place, 0, byte);
      }
      return Uint8Array.from(bytes);
    });
    await fc.assert(fc.asyncProperty(edited, expectReadingOrSentence), { numRuns: 400 });
  });
});
