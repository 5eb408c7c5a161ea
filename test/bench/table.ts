/**
 * The whole performance table as ratios against named references: `npm run bench [-- --large] [--only csv,clocks] [--keep]`.
 *
 * Each bench is run by itself, one after the other, and hands over its lines. `--large` runs them at their own full sizes,
 * which takes hours; `--keep` puts the table into DEVELOPERS.md, with machine and date.
 */
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { cpus, loadavg, tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import type { RatioLine } from "./ratio-line.js";

const { values } = parseArgs({
  options: {
    large: { type: "boolean", default: false },
    keep: { type: "boolean", default: false },
    only: { type: "string" },
  },
});

interface Bench {
  readonly name: string;
  readonly file: string;
  readonly small: readonly string[];
  readonly large: readonly string[];
  readonly environment?: Readonly<Record<string, string>>;
}

const BENCHES: readonly Bench[] = [
  { name: "speed", file: "speed.ts", small: ["--quick", "--repeats", "1"], large: [] },
  { name: "csv", file: "csv.ts", small: [], large: [] },
  {
    name: "detection",
    file: "detection.ts",
    small: ["--cells", "S-A,S-F,W", "--records", "60", "--power-records", "20", "--everyday-records", "0"],
    large: ["--records", "2000", "--workers", "2"],
  },
  { name: "currents", file: "currents.ts", small: ["20", "1", "clamp"], large: ["200"] },
  {
    name: "video",
    file: "video.ts",
    small: ["--cells", "calm", "--clicks", "1"],
    large: ["--cells", "calm,shaky,dim,far"],
  },
  { name: "page", file: "page.ts", small: ["--quick"], large: [] },
  { name: "records", file: "records.ts", small: [], large: [] },
  { name: "changes", file: "record-changes.ts", small: ["60"], large: ["1000"] },
  { name: "plan", file: "plan.ts", small: ["100", "white"], large: ["1000"] },
  {
    name: "history",
    file: "history-speed.ts",
    small: [],
    large: [],
    ...(values.large ? {} : { environment: { BATTERIES: "100" } }),
  },
  { name: "clocks", file: "clocks.ts", small: ["30", "10 Hz / 4 Hz"], large: ["1000"] },
];

const wanted = values.only?.split(",") ?? BENCHES.map(({ name }) => name);
const unknown = wanted.find((name) => !BENCHES.some((bench) => bench.name === name));
if (unknown !== undefined) {
  process.stderr.write(`--only knows ${BENCHES.map(({ name }) => name).join(", ")}, got "${unknown}"\n`);
  process.exit(2);
}

const folder = mkdtempSync(join(tmpdir(), "busdip-bench-"));
const machine = `${cpus()[0]?.model ?? "unknown processor"}, ${cpus().length} cores, load ${loadavg()[0]!.toFixed(1)} at the start`;
const head = `${new Date().toISOString().slice(0, 10)}, ${machine}, Node ${process.version}, ${values.large ? "full" : "small"} sizes`;
const lines: string[] = ["| bench | what | measured | reference | ratio | target |", "|---|---|---|---|---|---|"];
let failed = 0;
const begun = performance.now();
for (const bench of BENCHES.filter(({ name }) => wanted.includes(name))) lines.push(...rowsOf(bench));
rmSync(folder, { recursive: true });

const minutes = (performance.now() - begun) / 60_000;
const table = `${head}; ${minutes.toFixed(0)} minutes.\n\n${lines.join("\n")}\n`;
process.stdout.write(`\n${table}`);
mkdirSync(".bench", { recursive: true });
writeFileSync(".bench/table.md", table);
if (values.keep) keep(table);
process.exitCode = failed === 0 ? 0 : 1;

/** Runs one bench; its own words go to stderr, its lines into the table. */
function rowsOf({ name, file, small, large, environment }: Bench): string[] {
  const path = join(folder, `${name}.jsonl`);
  process.stderr.write(`\n== ${name}\n`);
  const { status, signal } = spawnSync(
    process.execPath,
    ["--import", "tsx", `test/bench/${file}`, ...(values.large ? large : small)],
    { stdio: ["ignore", 2, 2], env: { ...process.env, ...environment, BUSDIP_BENCH_LINES: path } },
  );
  const told = existsSync(path) ? readFileSync(path, "utf8").trim().split("\n") : [];
  const rows = told.map((line) => row(name, JSON.parse(line) as RatioLine));
  if (status === 0 && rows.length > 0) return rows;
  failed += 1;
  const why = status === 0 ? "told nothing" : `ended with ${signal ?? `exit status ${status}`}`;
  return [...rows, `| ${name} | **${why}** | | | | |`];
}

function row(name: string, { what, measured, reference, ratio, target }: RatioLine): string {
  return `| ${name} | ${what} | ${measured} | ${reference} | ${ratio === null ? "" : ratio.toPrecision(3)} | ${target} |`;
}

/** Puts the table between its two marks in DEVELOPERS.md. */
function keep(text: string): void {
  const page = readFileSync("DEVELOPERS.md", "utf8");
  const [from, to] = ["<!-- bench -->\n", "<!-- /bench -->"].map((mark) => page.indexOf(mark)) as [number, number];
  if (from < 0 || to < from) throw new Error("DEVELOPERS.md has no place for the table");
  writeFileSync("DEVELOPERS.md", `${page.slice(0, from)}<!-- bench -->\n${text}${page.slice(to)}`);
}
