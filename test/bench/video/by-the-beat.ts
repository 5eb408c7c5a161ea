/**
 * What a film makes of a dead load and of small dips while something else goes by the beat of the switch: `npx tsx
 * test/bench/video/by-the-beat.ts [SEEDS] [KINDS] [STYLES] [FIRST SEED]`, kinds and styles with commas between.
 *
 * Clips of 18 s through the codec, 20 frames/s, a dial of 170 px radius, three or four switchings, exact marks; about 5 s
 * of processor time each, three of them (0, 20 and 50 mV) a kind and seed.
 */
import { DIAL_STYLES, type DialStyleName } from "../../../samples/footage/dial-style.js";
import type { Verdict } from "../../../src/core/index.js";
import { BEAT_KINDS } from "./beat-kinds.js";
import { type BeatKind, type BeatTrial, beatTrial } from "./beat-trial.js";
import { FILM_KINDS } from "./film-kinds.js";

const KINDS = { ...BEAT_KINDS, ...FILM_KINDS };
const DEPTHS_V = [0, 0.02, 0.05];
const [count = "3", kinds = Object.keys(BEAT_KINDS).join(","), styles = "ice-2-bench", first = "41"] =
  process.argv.slice(2);

const all: BeatTrial[] = [];
for (const style of styles.split(",")) {
  if (!(style in DIAL_STYLES)) throw new Error(`no dial ${style}: give some of ${Object.keys(DIAL_STYLES).join(", ")}`);
  print(`${style}, seeds ${first} to ${Number(first) + Number(count) - 1}`);
  for (const name of kinds.split(",")) {
    const kind: BeatKind | undefined = KINDS[name];
    if (kind === undefined) throw new Error(`no kind ${name}: give some of ${Object.keys(KINDS).join(", ")}`);
    const trials: BeatTrial[] = [];
    for (let seed = Number(first); seed < Number(first) + Number(count); seed++) {
      for (const depthV of DEPTHS_V) trials.push(await beatTrial(kind, seed, depthV, style as DialStyleName));
    }
    print(`  ${name}: ${summary(trials)}`);
    all.push(...trials);
  }
}
print(`all: ${summary(all)}`);

function summary(trials: readonly BeatTrial[]): string {
  const judged = trials.flatMap(({ load, depthV }) => (load?.depth == null ? [] : [{ depth: load.depth, depthV }]));
  const missed = judged.filter(({ depth, depthV }) => depthV < depth.low || depthV > depth.high);
  const dead = trials.filter(({ depthV }) => depthV === 0);
  const least = dead.flatMap(({ load }) => load?.minimumDetectableDepthV ?? []);
  const falseDips = dead.flatMap(({ load }) => load?.depth?.value ?? []);
  const asked = trials.flatMap(({ asked: why }) => why ?? []);
  return [
    ...(["responded", "no response"] as const).map(
      (verdict) =>
        `${verdict} ${DEPTHS_V.map((depthV) => `${told(trials, depthV, verdict)} at ${1000 * depthV} mV`).join(", ")}`,
    ),
    `missed the truth ${missed.length} of ${judged.length}`,
    `depth without a dip ${range(falseDips)}`,
    `smallest dip told ${range(least)}`,
    `errors of readings ${Math.max(...trials.map(({ errorShare }) => errorShare || 0)).toFixed(1)} u`,
    ...(asked.length === 0 ? [] : [`asked ${asked.length} (${[...new Set(asked)].join(", ")})`]),
  ].join("; ");
}

function told(trials: readonly BeatTrial[], depthV: number, verdict: Verdict): string {
  const those = trials.filter((trial) => trial.depthV === depthV);
  return `${those.filter(({ load }) => load?.verdict === verdict).length} of ${those.length}`;
}

function range(valuesV: readonly number[]): string {
  if (valuesV.length === 0) return "untold";
  const [least, most] = [Math.min(...valuesV), Math.max(...valuesV)].map((valueV) => (1000 * valueV).toFixed(1));
  return least === most ? `${least} mV` : `${least} to ${most} mV`;
}

function print(line: string): void {
  process.stdout.write(`${line}\n`);
}
