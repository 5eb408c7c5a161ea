/**
 * Speed of the exact segmentation by size and shape of the series: `npx tsx test/bench/change-point.ts` (`--quick` up to 1e6).
 *
 * Processor seconds, so that other work on the machine does not count. The reference in the same run is plain pruned
 * optimal partitioning (PELT: Killick, Fearnhead & Eckley 2012, from memory), written here for the purpose.
 */
import { cpus } from "node:os";
import { changePoints } from "../../src/core/detection/change-point.js";
import { randomGenerator } from "../../src/core/statistics/random.js";

const quick = process.argv.includes("--quick");
const sizes = quick ? [1e4, 1e5, 1e6] : [1e4, 1e5, 1e6, 1e7];

type Shape = (
  index: number,
  count: number,
  random: ReturnType<typeof randomGenerator>,
  level: { now: number },
) => number;

const shapes: Record<string, Shape> = {
  "no change": (_, __, random) => random.normal(),
  "6 changes": (k, n, random, level) => {
    if (k % Math.ceil(n / 7) === 0) level.now = 2 * random.normal();
    return level.now + random.normal();
  },
  "one in 1000": (k, _, random, level) => {
    if (k % 1000 === 0) level.now = 2 * random.normal();
    return level.now + random.normal();
  },
  "slow drift": (k, n, random) => (40 * k) / n + random.normal(),
  "random walk": (_, __, random, level) => {
    level.now += 0.03 * random.normal();
    return level.now + random.normal();
  },
  "correlated 0.8": (_, __, random, level) => {
    level.now = 0.8 * level.now + 0.6 * random.normal();
    return level.now;
  },
  "digits of 2 sd": (k, _, random, level) => {
    if (k % 1000 === 0) level.now = 2 * random.normal();
    return 2 * Math.round((level.now + random.normal()) / 2);
  },
  "stray readings": (k, _, random, level) => {
    if (k % 1000 === 0) level.now = 2 * random.normal();
    return level.now + random.normal() * (random.uniform() < 0.002 ? 20 : 1);
  },
};

function series(shape: Shape, count: number): Float64Array {
  const random = randomGenerator(7);
  const level = { now: 0 };
  return Float64Array.from({ length: count }, (_, k) => shape(k, count, random, level));
}

/** Least processor seconds of three runs, one for long series. */
function seconds(run: () => void, count: number): number {
  let least = Number.POSITIVE_INFINITY;
  for (let repeat = 0; repeat < (count >= 1e6 ? 1 : 5); repeat++) {
    const before = process.cpuUsage();
    run();
    const used = process.cpuUsage(before);
    least = Math.min(least, (used.user + used.system) / 1e6);
  }
  return least;
}

/** Plain pruned optimal partitioning; returns the number of segments. */
function pelt(values: Float64Array, penalty: number): number {
  const count = values.length;
  const sums = new Float64Array(count + 1);
  const squares = new Float64Array(count + 1);
  for (let k = 0; k < count; k++) {
    sums[k + 1] = sums[k] + values[k];
    squares[k + 1] = squares[k] + values[k] ** 2;
  }
  const cost = new Float64Array(count + 1);
  cost[0] = -penalty;
  const last = new Int32Array(count + 1);
  const trial = new Float64Array(count + 1);
  const candidates = new Int32Array(count + 1);
  let size = 1;
  for (let t = 1; t <= count; t++) {
    let best = Number.POSITIVE_INFINITY;
    for (let c = 0; c < size; c++) {
      const s = candidates[c];
      trial[c] = cost[s] + squares[t] - squares[s] - (sums[t] - sums[s]) ** 2 / (t - s);
      if (trial[c] + penalty < best) {
        best = trial[c] + penalty;
        last[t] = s;
      }
    }
    cost[t] = best;
    let kept = 0;
    for (let c = 0; c < size; c++) if (trial[c] <= best) candidates[kept++] = candidates[c];
    candidates[kept++] = t;
    size = kept;
  }
  let segments = 0;
  for (let t = count; t > 0; t = last[t]) segments++;
  return segments;
}

console.log(`${cpus()[0].model}, Node ${process.version}, processor time; penalty 2 ln n (noise 1)`);
changePoints(series(shapes["one in 1000"], 2e4), { penalty: 20 });
for (const [name, shape] of Object.entries(shapes)) {
  const costs: number[] = [];
  let line = `${name.padEnd(16)}`;
  for (const count of sizes) {
    const values = series(shape, count);
    let segments = 0;
    const used = seconds(() => {
      segments = changePoints(values, { penalty: 2 * Math.log(count) }).starts.length;
    }, count);
    costs.push(used / count);
    line += `  ${count.toExponential(0)}: ${(count / used / 1e6).toFixed(2)} M/s (${segments})`;
  }
  console.log(`${line}  dearest over cheapest ${(Math.max(...costs) / Math.min(...costs)).toFixed(2)}`);
}
const values = series(shapes["one in 1000"], 1e5);
const penalty = 2 * Math.log(1e5);
const ours = seconds(() => changePoints(values, { penalty }), 1e5);
const plain = seconds(() => pelt(values, penalty), 1e5);
console.log(
  `reference, one in 1000, 1e5 values: PELT ${(0.1 / plain).toFixed(2)} M/s, ours ${(0.1 / ours).toFixed(2)} M/s`,
);
const limit = seconds(() => changePoints(values, { penalty, outlierLimit: 3 }), 1e5);
console.log(`with outlier limit 3: ${(0.1 / limit).toFixed(2)} M/s`);
const least = seconds(() => changePoints(values, { penalty, minimumLength: 10 }), 1e5);
console.log(`with minimum length 10: ${(0.1 / least).toFixed(2)} M/s`);
