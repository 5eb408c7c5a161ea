/**
 * How well and how fast the needle is read: `npm run bench:video -- --cells calm,shaky,dim,far,styles --clicks 2`.
 *
 * `--cells gain,clicks`: offset and gain after ordinary clicks (`--clicks` draws on each dial), and what becomes of clicks
 * that are off, turned, swapped or mistyped (every `--every`-th fault). `--seeds 101,102`: other drawings of the same cells,
 * which the figures of DEVELOPERS.md that come from one clip are held against. `--seconds 20`: longer clips, in which the first
 * second, which a codec may starve, and finding the dial weigh less. The first run of a cell with a clip makes its
 * clip (about a minute of processor time), which is kept in `.bench/video`.
 */
import { parseArgs } from "node:util";
import type { ConditionName } from "../../samples/footage/footage-plan.js";
import { tellRatio } from "./ratio-line.js";
import { readingBoundV } from "./video/bound.js";
import { faultyClicks, ordinaryGain } from "./video/click-cells.js";
import { benchClip } from "./video/clips.js";
import { HELD_OUT, noClickTrial } from "./video/no-click-trial.js";
import { type ReadingFigures, readingTrial } from "./video/reading-trial.js";
import { decodeSeconds, ffmpegSeconds } from "./video/speed-trial.js";

/** Targets of each cell: noise, least dip (the prototype's, to be beaten), offset and gain after clicks. */
const TARGETS: Readonly<Record<string, { rmsMv: number | null; dipMv: number; offsetMv: number; gainPct: number }>> = {
  calm: { rmsMv: 1.5, dipMv: 11, offsetMv: 20, gainPct: 0.5 },
  shaky: { rmsMv: 2.0, dipMv: 13, offsetMv: 20, gainPct: 0.5 },
  dim: { rmsMv: 4.5, dipMv: 22, offsetMv: 20, gainPct: 0.5 },
  far: { rmsMv: null, dipMv: 36, offsetMv: 20, gainPct: 2 },
};

const { values } = parseArgs({
  options: {
    cells: { type: "string", default: "calm,shaky,dim,far,styles" },
    clicks: { type: "string", default: "2" },
    every: { type: "string", default: "3" },
    seeds: { type: "string", default: "" },
    seconds: { type: "string", default: "9" },
  },
});
for (const cell of values.cells.split(",")) {
  if (cell === "styles") await styles();
  else if (cell === "gain")
    await onEveryDial("offset and gain after ordinary clicks", ordinaryGain, Number(values.clicks));
  else if (cell === "clicks") await onEveryDial("clicks, and what became of them", faultyClicks, Number(values.every));
  else if (cell in TARGETS) await readings(cell as ConditionName, Number(values.clicks));
  else
    throw new Error(
      `no cell ${cell}: give some of ${[...Object.keys(TARGETS), "styles", "gain", "clicks"].join(", ")}`,
    );
}

async function readings(cell: ConditionName, clicks: number): Promise<void> {
  const durationS = Number(values.seconds);
  if (values.seeds === "") await reading(cell, clicks, { durationS });
  else for (const seed of values.seeds.split(",")) await reading(cell, clicks, { durationS, seed: Number(seed) });
}

async function reading(
  cell: ConditionName,
  clicks: number,
  changes: { readonly durationS: number; readonly seed?: number },
): Promise<void> {
  const bench = await benchClip(cell, changes);
  const boundV = readingBoundV(bench.plan);
  const trials: ReadingFigures[] = [];
  for (let seed = 1; seed <= clicks; seed++) trials.push(await readingTrial(bench, seed));
  const target = TARGETS[cell]!;
  const each = (show: (figures: ReadingFigures) => string) => trials.map(show).join(", ");
  const mv = (volts: number) => (1000 * volts).toFixed(1);
  line(
    `${cell} (seed ${bench.plan.seed}, ${bench.plan.durationS} s, radius ${bench.plan.radiusPx} px; one figure for each set of clicks)`,
  );
  row(
    "readings of frames",
    each(({ readings, frames }) => `${readings} of ${frames}`),
    "",
  );
  row(
    "noise, RMS about a constant, mV",
    each(({ rmsV }) => mv(rmsV)),
    target.rmsMv === null ? "" : `${target.rmsMv}`,
  );
  row(
    "  each reading by its stated uncertainty, mV",
    each(({ weighedRmsV }) => mv(weighedRmsV)),
    "",
  );
  row(
    "noise from frame to frame, mV",
    each(({ jitterV }) => mv(jitterV)),
    "",
  );
  row(
    "  over the bound of one frame",
    each(({ jitterV }) => (jitterV / boundV).toFixed(1)),
    "",
  );
  row(
    "dip at 5 times the step's RMS, mV",
    each(({ leastDipV }) => mv(leastDipV)),
    `under ${target.dipMv}`,
  );
  row(
    "offset after clicks, mV (stated u)",
    each((t) => `${mv(t.offsetV)} (${mv(t.uOffsetV)})`),
    `${target.offsetMv}`,
  );
  row(
    "gain after clicks, % off (stated u)",
    each((t) => `${pct(t.gain - 1)} (${pct(t.uGain)})`),
    `${target.gainPct}`,
  );
  row(
    "readings inside 95 %",
    each(({ coverage }) => `${pct(coverage)} %`),
    "95 %",
  );
  const frames = bench.truth.timesS.length;
  const decodeS = await decodeSeconds(bench.path);
  const [first] = trials;
  const ffmpegS = ffmpegSeconds(bench.path);
  const rate = (seconds: number) => (frames / seconds).toFixed(0);
  row("frames/s of processor time, decoding alone", rate(decodeS), "");
  row("  pixel work alone", rate(Math.max(1e-3, first!.readS - decodeS)), "120");
  row("  whole clip, dial found too", rate(first!.readS + first!.findS), "");
  tellRatio({
    what: `${cell}: noise of a reading from frame to frame`,
    measured: `${mv(first!.jitterV)} mV`,
    reference: `Cramér-Rao bound of one frame, ${(1000 * boundV).toFixed(2)} mV`,
    ratio: first!.jitterV / boundV,
    target: "",
  });
  if (ffmpegS !== null) {
    tellRatio({
      what: `${cell}: frames/s of processor time, whole clip`,
      measured: rate(first!.readS + first!.findS),
      reference: `ffmpeg -f null, ${rate(ffmpegS)}`,
      ratio: ffmpegS / (first!.readS + first!.findS),
      target: "0.5",
    });
    row("  ffmpeg -f null", rate(ffmpegS), "");
    row("  whole clip over ffmpeg", (ffmpegS / (first!.readS + first!.findS)).toFixed(2), "0.5");
  }
}

/** A table of all dials without codec or shake, once for each radius. */
async function onEveryDial(
  what: string,
  rows: (radiusPx: number, count: number) => AsyncIterable<[string, string]>,
  count: number,
): Promise<void> {
  for (const radiusPx of [380, 170]) {
    line(`${what} (radius ${radiusPx} px)`);
    for await (const [name, figure] of rows(radiusPx, count)) row(name, figure, "");
  }
}

async function styles(): Promise<void> {
  line("held-out dials, no click: error of the needle's angle, degrees");
  let right = 0;
  let wrong = 0;
  for (const [index, [name, style]] of HELD_OUT.entries()) {
    const answer = await noClickTrial(style, 100 + index);
    if (typeof answer === "number") Math.abs(answer) < 0.3 ? right++ : wrong++;
    row(name, typeof answer === "number" ? answer.toFixed(3) : `asks (${answer})`, "0.3");
  }
  row("right / wrong / asked", `${right} / ${wrong} / ${HELD_OUT.length - right - wrong}`, "9 of 10 / 0");
}

function pct(share: number): string {
  return (100 * share).toFixed(2);
}

function line(text: string): void {
  process.stdout.write(`\n${text}\n`);
}

function row(what: string, figure: string, target: string): void {
  process.stdout.write(`${what.padEnd(46)}${figure.padEnd(34)}${target}\n`);
}
