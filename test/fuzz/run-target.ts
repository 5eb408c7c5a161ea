import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { randomSource } from "../../samples/simulator/random-source.js";
import { mutated } from "./mutation.js";
import { Find } from "./oracle.js";
import { TARGETS, tryInput } from "./targets.js";

const LARGEST_GROWTH_BYTES = 1.5e9;
const MOST_KEPT = 600;

const [name = "", seconds = "10", seed = "1", folder = "."] = process.argv.slice(2);
const target = await TARGETS[name]!();
mkdirSync(folder, { recursive: true });
const inputPath = join(folder, `${name}.input`);
const random = randomSource(Number(seed));
const corpus = new URL(`corpus/${name}/`, import.meta.url);
const kept = [...(await target.seeds())];
if (existsSync(corpus)) for (const file of readdirSync(corpus)) kept.push(readFileSync(new URL(file, corpus)));
const kinds = new Map<string, number>();
const finds = new Set<string>();
let count = 0;
let slowestS = 0;
let largestBytes = 0;

/** Where a fault came from, so that the same one is kept once. */
function signature(fault: unknown): string {
  if (!(fault instanceof Error)) return String(fault);
  const line = fault instanceof Find ? "" : (fault.stack ?? "").split("\n").find((one) => one.includes("/src/"));
  return `${fault.name}: ${fault.message.replace(/\d+/g, "0").slice(0, 120)} ${line?.trim() ?? ""}`;
}

function keepFind(input: Uint8Array, what: string): void {
  if (finds.has(what)) return;
  finds.add(what);
  writeFileSync(join(folder, `${name}-find-${finds.size}`), input);
  console.error(`${name}: ${what}`);
}

async function one(input: Uint8Array): Promise<void> {
  writeFileSync(inputPath, input);
  process.send?.({ count });
  const before = process.memoryUsage.rss();
  const cpu = process.cpuUsage();
  let kind: string;
  try {
    kind = await tryInput(target, input, inputPath);
  } catch (fault) {
    kind = signature(fault);
    keepFind(input, kind);
  }
  const { user, system } = process.cpuUsage(cpu);
  const usedS = (user + system) / 1e6;
  slowestS = Math.max(slowestS, usedS);
  if (usedS > (target.longestS ?? 5)) keepFind(input, `took ${usedS.toFixed(1)} s`);
  const grown = process.memoryUsage.rss() - before;
  largestBytes = Math.max(largestBytes, process.memoryUsage.rss());
  if (grown > LARGEST_GROWTH_BYTES) keepFind(input, `took ${(grown / 1e9).toFixed(1)} GB of memory`);
  count++;
  if (!kinds.has(kind) && kept.length < MOST_KEPT) kept.push(input);
  kinds.set(kind, (kinds.get(kind) ?? 0) + 1);
}

const until = Date.now() + 1000 * Number(seconds);
for (const input of [...kept]) await one(input);
while (Date.now() < until) {
  const pick = () => kept[Math.floor(random.uniform() * kept.length)]!;
  await one(
    mutated(pick(), { random, dictionary: target.words, other: pick(), largestBytes: target.largestBytes ?? 60_000 }),
  );
}
const { user, system } = process.cpuUsage();
const facts = {
  name,
  seed,
  count,
  kinds: kinds.size,
  finds: finds.size,
  slowestS,
  largestBytes,
  cpuS: (user + system) / 1e6,
};
writeFileSync(join(folder, `${name}.json`), JSON.stringify(facts));
if (process.env.BUSDIP_FUZZ_KINDS === "1") console.error([...kinds].map(([kind, n]) => `${n} ${kind}`).join("\n"));
process.disconnect?.();
