import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { setPriority } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { createVitest } from "vitest/node";
import { randomSource } from "../../samples/simulator/random-source.js";
import { isWellFormed, type Mutant, mutantsOf, withMutant } from "./mutants.js";
import { testsByFile } from "./tests-by-file.js";
import { traced } from "./what-ran.js";
import { wilsonInterval } from "./wilson-interval.js";

/**
 * `npm run mutation -- --sample 250 --seed 1 [--files trend,verdict/holm] [--tests 30] [--minutes 40]`: a random sample of
 * the mutants of src/core (of the files there whose path begins so), each tried on the tests that run the changed function,
 * the nearest first, until one fails or these tests have taken their share of time. A mutant that they let live may still
 * fail elsewhere, so the share killed is a lower bound of what the whole suite kills. A test file counts only if it passes
 * on the unchanged sources in this very run.
 */
const { values } = parseArgs({
  options: {
    sample: { type: "string", default: "250" },
    seed: { type: "string", default: "1" },
    minutes: { type: "string", default: "40" },
    files: { type: "string" },
    tests: { type: "string", default: "30" },
    out: { type: "string", default: ".bench/mutation.json" },
  },
});
setPriority(Number(process.env.BUSDIP_NICE ?? 10));
const root = fileURLToPath(new URL("../../", import.meta.url));
const core = join(root, "src/core");
/** Processor time that the tests of one mutant may take when unchanged, beside its own, which is run however long it takes. */
const TESTS_S = Number(values.tests);
/** What the test files took in earlier runs: only for the order in which they are tried. */
const timesFile = join(root, ".bench/mutation-times.json");
/** A mutant has hung when a test file takes so many times the processor time it takes unchanged, and at least LONGEST_S. */
const SLOWER = 5;
const LONGEST_S = 20;

const beginnings = values.files?.split(",") ?? null;
const files = readdirSync(core, { recursive: true, encoding: "utf8" })
  .filter((name) => /(?<!\.d)\.ts$/.test(name) && name !== "index.ts")
  .filter((name) => beginnings === null || beginnings.some((beginning) => name.startsWith(beginning)))
  .map((name) => join(core, name));
const texts = new Map(files.map((file) => [file, readFileSync(file, "utf8")]));
const all = files.flatMap((file) => mutantsOf(file, texts.get(file)!));
const random = randomSource(Number(values.seed));
const inDrawnOrder = all
  .map((mutant) => ({ mutant, key: random.uniform() }))
  .sort((a, b) => a.key - b.key)
  .map(({ mutant }) => mutant);
const drawn: Mutant[] = [];
for (const mutant of inDrawnOrder) {
  if (drawn.length === Number(values.sample)) break;
  if (isWellFormed(withMutant(texts.get(mutant.file)!, mutant))) drawn.push(mutant);
}

const earlierS = existsSync(timesFile) ? (JSON.parse(readFileSync(timesFile, "utf8")) as Record<string, number>) : {};
const tests = testsByFile(root, earlierS);
let current: Mutant | null = null;
const whatRan = join(root, ".bench/what-ran");
rmSync(whatRan, { recursive: true, force: true });
process.env.BUSDIP_WHAT_RAN = whatRan;
const vitest = await createVitest(
  "test",
  {
    watch: false,
    root,
    reporters: [{}],
    pool: "forks",
    bail: 1,
    maxWorkers: 1,
    fileParallelism: false,
    testTimeout: 600_000,
    setupFiles: [join(root, "test/mutation/note-what-ran.ts")],
  },
  {
    plugins: [
      {
        name: "mutant",
        enforce: "pre",
        load: (id: string) => {
          const text = texts.get(id);
          if (text === undefined) return null;
          return current?.file === id ? withMutant(text, current) : traced(id, text);
        },
      },
    ],
  },
);

/** Children of this process that run tests, with the processor time they have taken. */
function workers(): { pid: number; processorS: number }[] {
  return readdirSync("/proc")
    .filter((name) => /^\d+$/.test(name))
    .flatMap((pid) => {
      try {
        const stat = readFileSync(`/proc/${pid}/stat`, "utf8");
        const fields = stat.slice(stat.lastIndexOf(")") + 2).split(" ");
        const isTest =
          Number(fields[1]) === process.pid && !readFileSync(`/proc/${pid}/cmdline`, "utf8").includes("esbuild");
        // 100 ticks a second is fixed in Linux for what it shows here.
        return isTest ? [{ pid: Number(pid), processorS: (Number(fields[11]) + Number(fields[12])) / 100 }] : [];
      } catch {
        return [];
      }
    });
}

type Outcome = "passed" | "failed" | "hung";

async function run(
  mutant: Mutant | null,
  test: string,
  longestS: number,
): Promise<{ outcome: Outcome; processorS: number }> {
  for (const changed of [current, mutant]) if (changed !== null) vitest.invalidateFile(changed.file);
  current = mutant;
  let hung = false;
  const spentS = new Map<number, number>();
  const timer = setInterval(() => {
    for (const { pid, processorS } of workers()) {
      spentS.set(pid, processorS);
      if (processorS < longestS) continue;
      hung = true;
      process.kill(pid, "SIGKILL");
    }
  }, 500);
  const ended = (outcome: Outcome) => ({
    outcome,
    processorS: [...spentS.values()].reduce((sum, each) => sum + each, 0),
  });
  try {
    const specifications = (await vitest.globTestSpecifications([test])).filter(({ moduleId }) => moduleId === test);
    if (specifications.length !== 1) throw new Error(`${test} is not found as a test`);
    // What is remembered of earlier runs is handed back with every later one, so it is forgotten first.
    vitest.state.clearFiles(specifications[0]!.project, [test]);
    vitest.state.clearErrors();
    const { testModules, unhandledErrors } = await vitest.runTestSpecifications(specifications, false);
    if (hung) return ended("hung");
    const module = testModules.find(({ moduleId }) => moduleId === test);
    return ended(module?.ok() && unhandledErrors.length === 0 ? "passed" : "failed");
  } catch (error) {
    if (!hung) throw error;
    return ended("hung");
  } finally {
    clearInterval(timer);
  }
}

/** Processor time of a test file on unchanged sources, s; null if it does not pass on them. */
const unchangedS = new Map<string, number | null>();
/** Those that took longer than TESTS_S: not waited for again where they are not the file's own. */
const slow = new Set<string>();
async function secondsUnchanged(test: string, isOwn: boolean): Promise<number | null> {
  if (!unchangedS.has(test) && (isOwn || !slow.has(test))) {
    const { outcome, processorS } = await run(null, test, isOwn ? 600 : TESTS_S);
    if (outcome === "hung" && !isOwn) {
      slow.add(test);
      earlierS[test.slice(root.length)] = processorS;
    } else {
      unchangedS.set(test, outcome === "passed" ? processorS : null);
      if (outcome !== "passed") console.error(`does not count, ${outcome} on unchanged sources: ${test}`);
    }
  }
  return unchangedS.get(test) ?? null;
}

/** Functions that a test file ran on unchanged sources. */
const ranBy = new Map<string, ReadonlySet<string>>();
function runs(test: string, { file, within }: Mutant): boolean {
  if (!ranBy.has(test)) {
    const name = `${test.replaceAll(/[^\w.-]/g, "_")}.json`;
    ranBy.set(test, new Set(JSON.parse(readFileSync(join(whatRan, name), "utf8")) as string[]));
  }
  // What stands in no function is a constant of the file.
  return within < 0 || ranBy.get(test)!.has(`${file}:${within}`);
}

/** What the tests that run the mutant say of it. */
async function judged(mutant: Mutant): Promise<{ outcome: "killed" | "hung" | "alive" | "no test"; by?: string }> {
  let spentS = 0;
  let triedCount = 0;
  for (const { path: test, isOwn } of tests.get(mutant.file) ?? []) {
    // Run unchanged only where there should be time for it.
    const expectedS = unchangedS.get(test) ?? earlierS[test.slice(root.length)] ?? 0;
    if (!isOwn && spentS + expectedS > TESTS_S) continue;
    const ownS = await secondsUnchanged(test, isOwn);
    if (ownS === null || !runs(test, mutant)) continue;
    if (!isOwn && spentS + ownS > TESTS_S) continue;
    if (!isOwn) spentS += ownS;
    triedCount += 1;
    const { outcome } = await run(mutant, test, Math.max(LONGEST_S, SLOWER * ownS));
    const by = test.slice(root.length);
    if (outcome !== "passed") return { outcome: outcome === "hung" ? "hung" : "killed", by };
  }
  return { outcome: triedCount === 0 ? "no test" : "alive" };
}

const folderOf = (mutant: Mutant) =>
  mutant.file
    .slice(core.length + 1)
    .split("/")
    .slice(0, -1)[0] ?? "(top)";
const results: { mutant: Mutant; outcome: string; by?: string | undefined }[] = [];
const until = Date.now() + 60_000 * Number(values.minutes);
for (const mutant of drawn) {
  if (Date.now() > until) break;
  const begun = performance.now();
  const { outcome, by } = await judged(mutant);
  results.push({ mutant, outcome, by });
  const seconds = ((performance.now() - begun) / 1000).toFixed(0);
  console.error(
    `${outcome}: ${mutant.file.slice(root.length)}:${mutant.line} ${mutant.change} (${by ?? "-"}, ${seconds} s)`,
  );
  mkdirSync(dirname(join(root, values.out!)), { recursive: true });
  writeFileSync(join(root, values.out!), JSON.stringify(results));
  for (const [test, ownS] of unchangedS) if (ownS !== null) earlierS[test.slice(root.length)] = ownS;
  writeFileSync(timesFile, JSON.stringify(earlierS));
}
await vitest.close();

const row = (name: string, list: readonly { outcome: string }[]): string => {
  const hung = list.filter(({ outcome }) => outcome === "hung").length;
  const killed = hung + list.filter(({ outcome }) => outcome === "killed").length;
  const [low, high] = wilsonInterval(killed, list.length);
  const percent = (share: number) => `${(100 * share).toFixed(0)} %`;
  return `${name.padEnd(14)} ${String(list.length).padStart(5)} ${String(killed).padStart(7)} ${String(hung).padStart(8)} ${percent(killed / list.length).padStart(6)}   ${percent(low)} to ${percent(high)}`;
};
console.log(`${all.length} mutants in ${files.length} files; sample of ${results.length}, seed ${values.seed}`);
console.log("folder         tried  killed  by hang  share   95 % interval");
for (const folder of [...new Set(results.map(({ mutant }) => folderOf(mutant)))].sort())
  console.log(
    row(
      folder,
      results.filter(({ mutant }) => folderOf(mutant) === folder),
    ),
  );
console.log(row("all", results));
const { user, system } = process.cpuUsage();
console.log(`${Math.round((user + system) / 1e6)} s of processor here, and the test processes beside`);
process.exit(0);
