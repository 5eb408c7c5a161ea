/**
 * Reads the same log of 3.6 million rows with csv-parse alone, with the importer end to end, and with pandas, each in a
 * process of its own: `tsx test/bench/csv.ts [rows]`.
 */
import { execFileSync, spawnSync } from "node:child_process";
import { createReadStream, createWriteStream, existsSync, mkdtempSync, rmSync } from "node:fs";
import { cpus, tmpdir } from "node:os";
import { join } from "node:path";
import { parse } from "csv-parse";
import { readLog } from "../../src/importers/node.js";
import { tellRatio } from "./ratio-line.js";

const MEGA = 1e6;
/** Runs of a process, and processes of each reader in turn, so that all share the same load of the machine. */
const RUNS = 3;
const ROUNDS = 3;

interface Measured {
  /** Seconds of each run on the clock, and of processor time. */
  readonly seconds: readonly number[];
  readonly processorSeconds: readonly number[];
  readonly rowCount: number;
  readonly sumV: number;
  readonly startRssBytes: number;
  readonly peakRssBytes: number;
  readonly arrayBytes: number;
  readonly version?: string;
}

const children: Readonly<
  Record<string, (path: string) => Promise<{ rowCount: number; sumV: number; arrayBytes: number }>>
> = {
  async ours(path) {
    const { recording } = await readLog([path]);
    const { timesS, voltagesV, current } = recording;
    const arrays = new Set([timesS.buffer, voltagesV.buffer, current!.currentsA.buffer]);
    return {
      rowCount: timesS.length,
      sumV: voltagesV.reduce((a, b) => a + b, 0),
      arrayBytes: [...arrays].reduce((sum, buffer) => sum + buffer.byteLength, 0),
    };
  },
  async "csv-parse"(path) {
    const columns: number[][] = [[], [], []];
    for await (const row of createReadStream(path).pipe(parse({ from_line: 2 })) as AsyncIterable<string[]>) {
      for (let i = 0; i < 3; i += 1) columns[i]!.push(Number(row[i]));
    }
    const arrays = columns.map((column) => Float64Array.from(column));
    return {
      rowCount: arrays[0]!.length,
      sumV: arrays[1]!.reduce((a, b) => a + b, 0),
      arrayBytes: 24 * arrays[0]!.length,
    };
  },
};

async function child(name: string, path: string, runs: number): Promise<void> {
  const startRssBytes = process.memoryUsage().rss;
  const seconds: number[] = [];
  const processorSeconds: number[] = [];
  let last = { rowCount: 0, sumV: 0, arrayBytes: 0 };
  let peakRssBytes = 0;
  for (let run = 0; run < runs; run += 1) {
    const start = performance.now();
    const used = process.cpuUsage();
    last = await children[name]!(path);
    seconds.push((performance.now() - start) / 1000);
    const { user, system } = process.cpuUsage(used);
    processorSeconds.push((user + system) / MEGA);
    // Of the first run: later ones carry what is not collected yet.
    if (run === 0) peakRssBytes = process.resourceUsage().maxRSS * 1024;
  }
  process.stdout.write(
    JSON.stringify({ seconds, processorSeconds, ...last, startRssBytes, peakRssBytes } satisfies Measured),
  );
}

const PANDAS = `
import json, resource, sys, time
import pandas
start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
seconds, processor = [], []
for run in range(${RUNS}):
    t, c = time.perf_counter(), time.process_time()
    # The engine and the float precision that it takes by itself: C, and its quick reader of decimals.
    frame = pandas.read_csv(sys.argv[1], engine="c", float_precision=None)
    seconds.append(time.perf_counter() - t)
    processor.append(time.process_time() - c)
    if run == 0:
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
print(json.dumps({"seconds": seconds, "processorSeconds": processor, "rowCount": len(frame), "sumV": float(frame.iloc[:, 1].sum()),
                  "startRssBytes": start, "peakRssBytes": peak, "arrayBytes": 24 * len(frame), "version": pandas.__version__}))
`;

function run(name: string, path: string): Measured | null {
  if (name === "pandas") {
    // The system's own Python first: that is the one Debian's package serves.
    for (const python of ["/usr/bin/python3", "python3"]) {
      const found = spawnSync(python, ["-c", PANDAS, path], { encoding: "utf8" });
      if (found.status === 0) return JSON.parse(found.stdout) as Measured;
    }
    return null;
  }
  const runs = name === "csv-parse" ? "1" : String(RUNS);
  const out = execFileSync(process.execPath, ["--import", "tsx", import.meta.filename, "--child", name, path, runs], {
    encoding: "utf8",
  });
  return JSON.parse(out) as Measured;
}

/** All runs of one reader; the peak of memory is the largest. Null where it is not to be had. */
function together(all: readonly (Measured | null)[]): Measured | null {
  const runs = all.filter((one) => one !== null);
  if (runs.length === 0) return null;
  return {
    ...runs[0]!,
    seconds: runs.flatMap((one) => one.seconds),
    processorSeconds: runs.flatMap((one) => one.processorSeconds),
    peakRssBytes: Math.max(...runs.map((one) => one.peakRssBytes)),
  };
}

/** A regular log: milliseconds, volts with a little noise, amperes. */
async function writeRows(path: string, rowCount: number, stamp: (i: number) => string): Promise<void> {
  const stream = createWriteStream(path);
  let state = 12345;
  const noise = (): number => {
    state = (Math.imul(state, 1103515245) + 12345) & 0x7fffffff;
    return state / 0x7fffffff - 0.5;
  };
  let text = "time_s,voltage_V,current_A\n";
  for (let i = 0; i < rowCount; i += 1) {
    text += `${stamp(i)},${(27.3 + 0.02 * noise()).toFixed(5)},${(12.5 + 0.2 * noise()).toFixed(4)}\n`;
    if (text.length > 1 << 20 || i === rowCount - 1) {
      if (!stream.write(text)) await new Promise<void>((go) => stream.once("drain", go));
      text = "";
    }
  }
  await new Promise<void>((done) => stream.end(done));
}

function line(name: string, measured: Measured, reference: Measured | null): void {
  const rate = (seconds: number): string => (measured.rowCount / seconds / MEGA).toFixed(2).padStart(6);
  const best = Math.min(...measured.seconds);
  const busy = Math.min(...measured.processorSeconds);
  const over = (a: readonly number[] | undefined, b: number): string => (Math.min(...(a ?? [])) / b).toFixed(2);
  const ratio =
    reference === null
      ? ""
      : `${over(reference.seconds, best)} x pandas, ${over(reference.processorSeconds, busy)} x by processor time`;
  const beyond = (measured.peakRssBytes - measured.startRssBytes - measured.arrayBytes) / MEGA;
  console.log(
    `${name.padEnd(34)}${rate(best)} ${rate(measured.seconds[0]!)} ${rate(busy)}   ` +
      `${(measured.peakRssBytes / MEGA).toFixed(0).padStart(6)} ${beyond.toFixed(0).padStart(8)}   ${ratio}`,
  );
}

function tellAll(ours: Measured, library: Measured, pandas: Measured | null): void {
  const least = Math.min;
  const rate = (seconds: number): string => `${(ours.rowCount / seconds / MEGA).toFixed(1)} M rows/s`;
  const busyS = least(...ours.processorSeconds);
  const tell = (what: string, ownS: number, name: string, otherS: number, target: string): void =>
    tellRatio({
      what,
      measured: rate(ownS),
      reference: `${name}, ${rate(otherS)}`,
      ratio: otherS / ownS,
      target,
    });
  if (pandas !== null) {
    const name = `pandas ${pandas.version} read_csv`;
    tell("file to typed arrays, elapsed", least(...ours.seconds), name, least(...pandas.seconds), "9 M rows/s, 2");
    tell("the same, processor time", busyS, name, least(...pandas.processorSeconds), "");
  }
  tell("the same, processor time", busyS, "csv-parse alone", least(...library.processorSeconds), "");
  const beyondMB = (ours.peakRssBytes - ours.startRssBytes - ours.arrayBytes) / MEGA;
  const arraysMB = ours.arrayBytes / MEGA;
  tellRatio({
    what: "memory beyond the arrays",
    measured: `${beyondMB.toFixed(0)} MB`,
    reference: `the arrays, ${arraysMB.toFixed(0)} MB`,
    ratio: beyondMB / arraysMB,
    target: "under 150 MB",
  });
}

async function main(): Promise<void> {
  const rowCount = Number(process.argv[2] ?? 3_600_000);
  const folder = mkdtempSync(join(tmpdir(), "csv-bench-"));
  try {
    const path = join(folder, "regular.csv");
    await writeRows(path, rowCount, (i) => (i / 1000).toFixed(3));
    const stamped = join(folder, "stamped.csv");
    const startMs = Date.UTC(2026, 2, 2, 10);
    await writeRows(stamped, Math.floor(rowCount / 2), (i) => new Date(startMs + i).toISOString());
    console.log(`${rowCount} rows of 3 columns; Node ${process.version}, ${cpus()[0]?.model ?? "unknown processor"}`);
    console.log("                                       M rows/s             peak     beyond runtime");
    console.log("                                   best  first  per cpu s     MB   and arrays MB");
    const turns = Array.from({ length: ROUNDS }, () => [run("pandas", path), run("ours", path)] as const);
    const pandas = together(turns.map(([theirs]) => theirs));
    const ours = together(turns.map(([, own]) => own))!;
    const library = run("csv-parse", path)!;
    line("csv-parse alone, to typed arrays", library, pandas);
    if (pandas === null)
      console.log(
        "pandas                            left out: python3-pandas is not installed (apt-get install python3-pandas)",
      );
    else line(`pandas ${pandas.version} read_csv, engine c`, pandas, null);
    line("busdip, file to recording", ours, pandas);
    tellAll(ours, library, pandas);
    line("busdip, ISO 8601 stamps", run("ours", stamped)!, null);
    for (const other of [library, pandas]) {
      if (other !== null && Math.abs(other.sumV / ours.sumV - 1) > 1e-9)
        throw new Error(`sums differ: ${other.sumV}, ${ours.sumV}`);
    }
  } finally {
    if (existsSync(folder)) rmSync(folder, { recursive: true });
  }
}

if (process.argv[2] === "--child") await child(process.argv[3]!, process.argv[4]!, Number(process.argv[5]));
else await main();
