import { parse } from "csv-parse/sync";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { PlainRows } from "../../../src/importers/csv/plain-rows.js";
import { PLAIN_ROWS_CODE } from "../../../src/importers/csv/plain-rows-code.js";
import { assembled } from "../wasm-code.js";

const COMMA = 44;
const SEMICOLON = 59;

interface Layout {
  readonly wanted: readonly number[];
  readonly delimiter?: number;
  readonly decimal?: number;
  readonly shifts?: readonly number[];
}

function reader({ wanted, delimiter = COMMA, decimal = 46, shifts }: Layout): PlainRows {
  return new PlainRows({
    delimiter,
    decimal,
    newline: 10,
    wanted: Uint8Array.from(wanted),
    shifts: Int8Array.from(shifts ?? wanted.map(() => 0)),
    timeColumn: wanted.indexOf(1),
  });
}

/** All rows that are read before the first that is not plain, and where it begins. */
function read(
  text: string,
  layout: Layout,
): { readonly rows: number[][]; readonly at: number; readonly plain: PlainRows } {
  const bytes = Buffer.from(text);
  const plain = reader(layout);
  const columns = layout.wanted.flatMap((one, column) => (one === 1 ? [column] : []));
  const rows: number[][] = [];
  let at = 0;
  for (let count = plain.read(bytes, at, bytes.length); count > 0; count = plain.read(bytes, at, bytes.length)) {
    at = plain.at;
    const into = columns.map((column) => {
      const numbers = new Float64Array(count);
      plain.copy(column, count, numbers, 0);
      return numbers;
    });
    for (let i = 0; i < count; i += 1) rows.push(into.map((numbers) => numbers[i]!));
    if (at >= bytes.length) break;
  }
  return { rows, at, plain };
}

/** A plain decimal of up to 15 characters. */
const plainNumber = fc
  .tuple(fc.constantFrom("", "-", "+"), fc.stringMatching(/^\d{1,7}$/), fc.option(fc.stringMatching(/^\d{0,6}$/)))
  .map(([sign, whole, decimals]) => `${sign}${whole}${decimals === null ? "" : `.${decimals}`}`);

/** What may stand in a column that is skipped. */
const anything = fc.stringMatching(/^[\w.:+-]{0,40}$/);

describe("PlainRows.read()", () => {
  it("runs what plain-rows.wat says", async () => {
    expect(await assembled("csv/plain-rows")).toBe(PLAIN_ROWS_CODE);
  });

  it("gives the numbers that csv-parse and Number give, to the last bit, in any columns", async () => {
    const table = fc
      .array(fc.boolean(), { minLength: 1, maxLength: 8 })
      .map((wanted) => [...wanted, true])
      .chain((wanted) =>
        fc.tuple(
          fc.constant(wanted),
          fc.array(fc.tuple(...wanted.map((one) => (one ? plainNumber : anything))), { minLength: 1, maxLength: 60 }),
          fc.constantFrom("\n", "\r\n", ",\n", ",more,12\n", ",more\r\n"),
        ),
      );
    fc.assert(
      fc.property(table, ([wanted, rows, tail]) => {
        const text = rows.map((row) => `x${row.join(",")}`.slice(wanted[0] ? 1 : 0) + tail).join("");
        const found = read(text, { wanted: wanted.map(Number) });
        const expected = (parse(text, { relax_column_count: true, cast: false }) as string[][]).map((row) =>
          row.filter((_, column) => wanted[column] === true).map(Number),
        );
        expect(found.rows).toEqual(expected);
        expect(found.at).toBe(text.length);
      }),
      { numRuns: 500 },
    );
  });

  it("rounds once where a unit shifts the decimal point too", () => {
    fc.assert(
      fc.property(fc.array(plainNumber, { minLength: 1 }), fc.integer({ min: 0, max: 7 }), (numbers, shift) => {
        const { rows } = read(`${numbers.join("\n")}\n`, { wanted: [1], shifts: [shift] });
        expect(rows.map(([value]) => value)).toEqual(numbers.map((text) => Number(`${text}e-${shift}`)));
      }),
    );
  });

  it("reads decimal commas behind semicolons", () => {
    const layout = { wanted: [1, 1], delimiter: SEMICOLON, decimal: COMMA };
    expect(read("0,5;27,31\n1;-0,125\n", layout).rows).toEqual([
      [0.5, 27.31],
      [1, -0.125],
    ]);
  });

  it("keeps the sign of a negative zero", () => {
    expect(Object.is(read("-0.0\n", { wanted: [1] }).rows[0]![0], -0)).toBe(true);
  });

  it("goes on where its memory is full, at any number of columns", () => {
    const text = Array.from({ length: 30_000 }, (_, i) => `${i},${i / 8},${-i}\n`).join("");
    const { rows, at } = read(text, { wanted: [1, 1, 1] });
    expect(at).toBe(text.length);
    expect(rows.length).toBe(30_000);
    expect(rows.every(([a, b, c], i) => a === i && b === i / 8 && c === 0 - i)).toBe(true);
  });

  it.each([
    "",
    " 1",
    "1 ",
    "1e3",
    "abc",
    "1.2.3",
    "--1",
    "-",
    ".",
    "+.",
    "OL",
    '"1"',
    "1234567890.123456",
    "1\0",
    "0x10",
    "1:2",
    "1/2",
    "1;",
    "½",
  ])("stops before a row with the cell '%s', and takes those above", (cell) => {
    const found = read(`1,2\n3,4\n5,${cell}\n6,7\n`, { wanted: [1, 1] });
    expect(found.rows).toEqual([
      [1, 2],
      [3, 4],
    ]);
    expect(found.at).toBe(8);
    expect(read(`1,2\n${cell},5\n`, { wanted: [1, 1] }).at).toBe(4);
  });

  it("stops before a quote behind the last column wanted, and before a row with too few cells", () => {
    expect(read('1,2,x\n3,4,"y\n5,6,"\n', { wanted: [1, 1] }).at).toBe(6);
    expect(read("1,2\n3\n", { wanted: [1, 1] }).at).toBe(4);
    expect(read('a,1\n"b,2\n', { wanted: [0, 1] }).at).toBe(4);
    expect(read("a\n1,2\n", { wanted: [0, 1] }).at).toBe(0);
  });

  it.each(["#", "%", "/", "*", "!"])("stops before a row that begins with %s", (sign) => {
    expect(read(`a,1\n${sign}b,2\n`, { wanted: [0, 1] }).at).toBe(4);
  });

  it("counts the decimals of the times it took, not of those it did not take", () => {
    expect(read("0.25,1\n0.5,1\n", { wanted: [1, 1] }).plain.timeDecimals).toBe(2);
    expect(read("0.5,1\n0.125,x\n", { wanted: [1, 1] }).plain.timeDecimals).toBe(1);
  });

  it("reads what was put into the same bytes anew after release()", () => {
    const bytes = Buffer.from("1,2\n");
    const plain = reader({ wanted: [1, 1] });
    const into = new Float64Array(1);
    for (const digit of ["2", "7"]) {
      bytes.write(digit, 2);
      plain.read(bytes, 0, 4);
      plain.copy(1, 1, into, 0);
      plain.release();
      expect(into[0]).toBe(Number(digit));
    }
  });
});
