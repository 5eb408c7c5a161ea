import { MUTATION_SAMPLES, type MutationSample } from "./samples.js";
import { wilsonInterval } from "./wilson-interval.js";

/** `npm run mutation:samples`: the tables of DEVELOPERS.md, of all samples of mutants drawn so far. */
const percent = (share: number) => (100 * share).toFixed(0);

function share(killed: number, tried: number): string {
  const [low, high] = wilsonInterval(killed, tried);
  return `${percent(killed / tried)} % [${percent(low)}, ${percent(high)}]`;
}

function totalOf({ folders }: MutationSample): readonly [number, number] {
  return Object.values(folders).reduce(([t, k], [tried, killed]) => [t + tried, k + killed], [0, 0]);
}

const byFolder = new Map<string, readonly [number, number]>();
for (const { folders } of MUTATION_SAMPLES) {
  for (const [folder, [tried, killed]] of Object.entries(folders)) {
    const [t, k] = byFolder.get(folder) ?? [0, 0];
    byFolder.set(folder, [t + tried, k + killed]);
  }
}

console.log("| seed | date | commit | tried | killed | share, 95 % | without those equal in effect |");
console.log("|---|---|---|---|---|---|---|");
for (const sample of MUTATION_SAMPLES) {
  const { seeds, date, commit, limits, equalCount } = sample;
  const [tried, killed] = totalOf(sample);
  const seed = limits === undefined ? seeds : `${seeds}: ${limits}`;
  const told = tried - equalCount;
  console.log(
    `| ${seed} | ${date} | ${commit} | ${tried} | ${killed} | ${share(killed, tried)} | ${killed} of ${told}: ${share(killed, told)} |`,
  );
}
const all = MUTATION_SAMPLES.map(totalOf).reduce(([t, k], [tried, killed]) => [t + tried, k + killed], [0, 0] as const);
const toldInAll = all[0] - MUTATION_SAMPLES.reduce((sum, { equalCount }) => sum + equalCount, 0);
console.log(
  `| all | | | ${all[0]} | ${all[1]} | ${share(all[1], all[0])} | ${all[1]} of ${toldInAll}: ${share(all[1], toldInAll)} |`,
);
console.log("\n| folder | tried | killed | share, 95 % |");
console.log("|---|---|---|---|");
for (const [folder, [tried, killed]] of [
  ...[...byFolder].sort(([a], [b]) => (a < b ? -1 : 1)),
  ["all", all] as const,
]) {
  console.log(`| ${folder} | ${tried} | ${killed} | ${share(killed, tried)} |`);
}
