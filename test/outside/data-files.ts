import { readFileSync } from "node:fs";

/** Text of a file below `test/outside/data`. */
export function dataText(name: string): string {
  return readFileSync(new URL(`data/${name}`, import.meta.url), "utf8");
}

/** Columns of numbers of a comma-separated file with one header line; empty cells become NaN. */
export function dataColumns(name: string): Float64Array[] {
  const rows = dataText(name)
    .trim()
    .split(/\r?\n/)
    .slice(1)
    .map((line) => line.split(",").map((cell) => (cell.trim() === "" ? Number.NaN : Number(cell))));
  return rows[0].map((_, column) => Float64Array.from(rows, (row) => row[column]));
}

/** How far `value` lies from a printed figure, in units of its last printed digit; at most 0.5 when it rounds to it. */
export function lastDigits(value: number, printed: string): number {
  const [mantissa, exponent = "0"] = printed.toLowerCase().split("e");
  const decimals = mantissa.includes(".") ? mantissa.length - mantissa.indexOf(".") - 1 : 0;
  return Math.abs(value - Number(printed)) / 10 ** (Number(exponent) - decimals);
}

/** Matching significant digits of `value` and the certified one: `-log10` of the relative error, 15 when equal. */
export function matchingDigits(value: number, certified: number): number {
  if (value === certified) return 15;
  const error = certified === 0 ? Math.abs(value) : Math.abs(value - certified) / Math.abs(certified);
  return Math.min(15, -Math.log10(error));
}
