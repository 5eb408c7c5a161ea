/**
 * The bench of speed and memory: `npm run bench:speed`. Times unknown throughout, the slowest kind of judgement.
 *
 * Each figure stands beside a named reference measured in the same run on the same file.
 */
import { createWriteStream, existsSync, mkdirSync, statSync, writeFileSync } from "node:fs";
import { arch, cpus, platform, release } from "node:os";
import { parseArgs } from "node:util";
import { changePoints, liveAnalysis } from "../../src/core/index.js";
import type { CellName, CellSettings } from "./cells.js";
import { measuredChild, pythonReference } from "./measured-child.js";
import { isStandIn, judge } from "./ours.js";
import { tellRatio } from "./ratio-line.js";
import { type SimulatedRecording, simulateRecording } from "./simulate.js";

const { values } = parseArgs({
  options: { quick: { type: "boolean", default: false }, repeats: { type: "string", default: "3" } },
});
const repeats = Number(values.repeats);
const results: Record<string, unknown>[] = [];
const SPLIT_REFERENCE = `
const lines = require("node:fs").readFileSync(process.argv[1], "utf8").split("\\n");
const times = new Float64Array(lines.length), volts = new Float64Array(lines.length);
let count = 0;
for (let i = 1; i < lines.length; i++) {
  const cells = lines[i].split(",");
  if (cells.length < 2) continue;
  times[count] = Number(cells[0]); volts[count++] = Number(cells[1]);
}
if (count < 1000) process.exit(1);`;
/** Processor seconds of the judgement and of the segmentation, by the number of readings. */
const judgedS = new Map<number, number>();

/** Long recordings have a thousand readings a second and three switchings somewhere. */
function longRecording(cell: CellName, sampleCount: number, rateHz: number, depthV: number): SimulatedRecording {
  const settings: Partial<CellSettings> = {
    durationS: [sampleCount / rateHz, sampleCount / rateHz],
    rateHz: [rateHz, rateHz],
    switchingCount: [3, 3],
  };
  return simulateRecording(cell, { seed: 11, depthV, marks: "none", settings });
}

mkdirSync(".bench", { recursive: true });
print(`${cpus()[0].model}, ${cpus().length} cores, ${platform()} ${release()} ${arch()}, Node ${process.version}`);
if (isStandIn()) print("NOTE: the detector is missing; a plain stand-in was timed instead.");
benchGrowth();
benchSegmentation();
benchShapes();
benchLive();
await benchFile();
writeFileSync(`.bench/speed-${new Date().toISOString().replace(/[:.]/g, "-")}.json`, JSON.stringify(results, null, 1));

function benchGrowth(): void {
  print("\nCore, readings in memory to verdicts, 1 kHz (processor time, the least of the repeats)");
  const sizes = values.quick ? [1e4, 1e5, 1e6] : [1e4, 1e5, 1e6, 3.6e6, 1e7];
  const costs = sizes.map((sampleCount) => {
    // The smallest would be too short for its switchings at the full rate.
    const recording = longRecording("S-A", sampleCount, Math.min(1000, sampleCount / 40), 0.2);
    const { seconds, verdict } = timeJudge(recording);
    judgedS.set(sampleCount, seconds);
    const nsPerSample = (1e9 * seconds) / recording.timesS.length;
    const speed = recording.timesS.length / seconds / 1e6;
    report("core", { sampleCount: recording.timesS.length, seconds, nsPerSample, verdict });
    print(
      `  ${recording.timesS.length} readings: ${seconds.toFixed(3)} s, ${speed.toFixed(2)} M/s, ${nsPerSample.toFixed(0)} ns each, ${verdict}`,
    );
    return nsPerSample;
  });
  const ratio = Math.max(...costs) / Math.min(...costs);
  print(`  cost per reading, dearest size over cheapest: ${ratio.toFixed(2)}; without the cost that every search has:`);
  const [few, many] = [sizes.length - 3, sizes.length - 1];
  const own = (costs[many] * sizes[many] - costs[few] * sizes[few]) / (sizes[many] - sizes[few]);
  print(`  from ${sizes[few]} to ${sizes[many]} readings ${own.toFixed(0)} ns each`);
}

function benchShapes(): void {
  const sampleCount = values.quick ? 1e5 : 1e6;
  print(`\nThe same by the kind of readings, ${sampleCount} of them at 1 kHz (10 kHz where told)`);
  const shapes = [
    ["calm", "S-W", 1000],
    ["drifting", "S-F", 1000],
    ["display of 0.1 V", "Q30", 1000],
    ["gaps", "G", 1000],
    ["random times", "I", 1000],
    ["outliers", "O", 1000],
    ["10 kHz", "S-A", 10_000],
    ["10 Hz, many hours", "S-A", 10],
  ] as const;
  for (const [name, cell, rateHz] of shapes) {
    const recording = longRecording(cell, sampleCount, rateHz, 0.2);
    const { seconds, verdict } = timeJudge(recording);
    report("shape", { name, sampleCount: recording.timesS.length, seconds, verdict });
    print(
      `  ${name.padEnd(18)} ${seconds.toFixed(3)} s, ${(recording.timesS.length / seconds / 1e6).toFixed(2)} M/s, ${verdict}`,
    );
  }
}

/** The exact segmentation of the readings as they come, all of them: what the judgement's time may be held against. */
function benchSegmentation(): void {
  print("\nReference: exact segmentation at the full rate (processor time)");
  for (const sampleCount of values.quick ? [1e5, 1e6] : [1e5, 1e6, 3.6e6]) {
    const { voltagesV } = longRecording("S-A", sampleCount, Math.min(1000, sampleCount / 40), 0.2);
    // Noise of 20 mV white and 30 mV coloured: a penalty that leaves steps of load alone.
    const penalty = 40 * 0.036 ** 2 * Math.log(sampleCount);
    let segments = 0;
    const seconds = leastProcessorSeconds(() => {
      segments = changePoints(voltagesV, { penalty }).starts.length;
    });
    report("segmentation", { sampleCount, seconds, segments });
    tellRatio({
      what: `judgement of ${sampleCount} readings, times unknown`,
      measured: `${judgedS.get(sampleCount)!.toFixed(2)} s of processor time`,
      reference: `exact segmentation of the same, ${seconds.toFixed(2)} s`,
      ratio: judgedS.get(sampleCount)! / seconds,
      target: sampleCount === 3.6e6 ? "0.75 s" : "",
    });
    print(
      `  ${sampleCount} readings: ${seconds.toFixed(3)} s, ${(sampleCount / seconds / 1e6).toFixed(2)} M/s, ${segments}`,
    );
  }
}

/** Readings fed as they would come, ten blocks a second, with an answer after each; processor time of the whole process. */
function benchLive(): void {
  print("\nLive, 1 kHz in blocks of 0.1 s, an answer after each");
  // The first round warms the program up, as a page is that has been open for a while.
  for (const durationS of values.quick ? [60, 60] : [60, 60, 600, 3600]) {
    for (const marks of ["exact", "none"] as const) {
      const settings = { durationS: [durationS, durationS], rateHz: [1000, 1000], switchingCount: [5, 5] } as const;
      const recording = simulateRecording("S-A", { seed: 12, depthV: 0.2, marks, settings });
      const live = liveAnalysis(marks === "none" ? {} : { marks: [] });
      const { timesS, voltagesV } = recording;
      const told = [...recording.marks];
      let judgements = 0;
      let judgedToS: number | undefined;
      const before = process.cpuUsage();
      for (let start = 0; start < timesS.length; start += 100) {
        const end = Math.min(start + 100, timesS.length);
        const answer = live.push({ timesS: timesS.subarray(start, end), voltagesV: voltagesV.subarray(start, end) });
        while (told.length > 0 && told[0].timeS <= timesS[end - 1]) live.mark(told.shift()!);
        if (answer.judged?.toS !== judgedToS) judgements += 1;
        judgedToS = answer.judged?.toS;
      }
      const spent = process.cpuUsage(before);
      const share = (spent.user + spent.system) / 1e6 / durationS;
      report("live", { durationS, marks, share, judgements });
      const known = marks === "none" ? "times unknown" : "times marked";
      tellRatio({
        what: `live, ${durationS} s at 1 kHz, ${known}`,
        measured: `${(1000 * share).toFixed(1)} ms of one core a second`,
        reference: "real time",
        ratio: share,
        target: "",
      });
      print(`  ${durationS} s, ${known}: ${(100 * share).toFixed(2)} % of one core, ${judgements} full judgements`);
    }
  }
}

async function benchFile(): Promise<void> {
  if (!existsSync("dist/cli/main.js")) {
    print("\nNo dist/cli/main.js: run npm run build for the figures from file to verdict.");
    return;
  }
  const rows = values.quick ? 360_000 : 3_600_000;
  const large = await writeCsv(`.bench/speed-${rows}.csv`, longRecording("S-A", rows, 1000, 0.2));
  print(
    `\nFile to verdicts, a process of its own, ${rows} rows, ${(statSync(large).size / 1e6).toFixed(0)} MB (the least of the repeats)`,
  );
  const ownS = await timeProcess("busdip analyze", process.execPath, ["dist/cli/main.js", "analyze", large], rows);
  await timeProcess("busdip --version", process.execPath, ["dist/cli/main.js", "--version"], null);
  const split = ["-e", SPLIT_REFERENCE, large];
  const splitS = await timeProcess("reference: Node split and Number", process.execPath, split, rows);
  const tell = (name: string, otherS: number): void =>
    tellRatio({
      what: `file of ${rows} rows to verdicts, a process`,
      measured: `${ownS.toFixed(2)} s of processor time`,
      reference: `${name}, reading only, ${otherS.toFixed(2)} s`,
      ratio: ownS / otherS,
      target: "",
    });
  tell("Node split and Number", splitS);
  const python = pythonReference();
  if (python !== null) {
    const words = ["-c", python.program, large];
    tell(python.name, await timeProcess(`reference: ${python.name}`, "python3", words, rows));
  }

  const hour = await writeCsv(".bench/speed-hour.csv", longRecording("S-A", 36_000, 10, 0.2));
  print("\nOne hour at 10 Hz, 36000 rows");
  await timeProcess("busdip analyze", process.execPath, ["dist/cli/main.js", "analyze", hour], 36_000);
}

async function timeProcess(
  name: string,
  command: string,
  words: readonly string[],
  rows: number | null,
): Promise<number> {
  const runs = [];
  for (let k = 0; k < repeats; k++) runs.push(await measuredChild(command, words));
  const wallS = Math.min(...runs.map((run) => run.wallS));
  const cpuS = Math.min(...runs.map((run) => run.cpuS));
  const peakMB = Math.max(...runs.map((run) => run.peakMB));
  const { exitCode } = runs[0];
  report("process", { name, rows, wallS, cpuS, peakMB, exitCode });
  const speed = rows === null ? "" : `, ${(rows / wallS / 1e6).toFixed(2)} M rows/s`;
  const failed = exitCode === 0 ? "" : `, FAILED with exit ${exitCode}`;
  print(
    `  ${name.padEnd(34)} ${wallS.toFixed(2)} s, processor ${cpuS.toFixed(2)} s, peak ${peakMB.toFixed(0)} MB${speed}${failed}`,
  );
  return cpuS;
}

function timeJudge(recording: SimulatedRecording): { readonly seconds: number; readonly verdict: string } {
  let verdict = "";
  const seconds = leastProcessorSeconds(() => {
    verdict = judge(recording, { falseAlarmRate: 0.01, power: 0.95, knowledge: "nothing" }).verdict;
  });
  return { seconds, verdict };
}

/** Processor seconds, so that other work on the machine does not count. */
function leastProcessorSeconds(run: () => void): number {
  let seconds = Number.POSITIVE_INFINITY;
  for (let k = 0; k < repeats; k++) {
    const before = process.cpuUsage();
    run();
    const used = process.cpuUsage(before);
    seconds = Math.min(seconds, (used.user + used.system) / 1e6);
  }
  return seconds;
}

async function writeCsv(path: string, { timesS, voltagesV }: SimulatedRecording): Promise<string> {
  const stream = createWriteStream(path);
  const rows = ["time_s,voltage_V"];
  for (let i = 0; i < timesS.length; i++) {
    rows.push(`${timesS[i].toFixed(4)},${voltagesV[i].toFixed(4)}`);
    if (rows.length < 20_000 && i < timesS.length - 1) continue;
    if (!stream.write(`${rows.join("\n")}\n`))
      await new Promise<void>((resolve) => stream.once("drain", () => resolve()));
    rows.length = 0;
  }
  await new Promise<void>((resolve) => stream.end(() => resolve()));
  return path;
}

function report(kind: string, figures: Record<string, unknown>): void {
  results.push({ kind, ...figures });
}

function print(line: string): void {
  process.stdout.write(`${line}\n`);
}
