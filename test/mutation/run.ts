import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { setPriority } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { createVitest } from "vitest/node";
import { randomSource } from "../../samples/simulator/random-source.js";
import { type Mutant, mutantsOf, withMutant } from "./mutants.js";
import { wilsonInterval } from "./wilson-interval.js";

/**
 * `npm run mutation -- --sample 250 --seed 1 [--folder statistics,trend] [--minutes 40]`: a random sample of the mutants of
 * src/core, each tried on the tests that import its file. A mutant that these let live may still fail elsewhere, so the
 * share killed is a lower bound of what the whole suite kills.
 */
const { values } = parseArgs({
  options: {
    sample: { type: "string", default: "250" },
    seed: { type: "string", default: "1" },
    minutes: { type: "string", default: "40" },
    folder: { type: "string" },
    out: { type: "string", default: ".bench/mutation.json" },
  },
});
setPriority(Number(process.env.BUSDIP_NICE ?? 10));
const root = fileURLToPath(new URL("../../", import.meta.url));
const core = join(root, "src/core");
const LONGEST_S = 90;

const folders = values.folder?.split(",") ?? null;
const files = readdirSync(core, { recursive: true, encoding: "utf8" })
  .filter((name) => /(?<!\.d)\.ts$/.test(name) && name !== "index.ts")
  .filter((name) => folders === null || folders.some((folder) => name.startsWith(`${folder}/`)))
  .map((name) => join(core, name));
const texts = new Map(files.map((file) => [file, readFileSync(file, "utf8")]));
const all = files.flatMap((file) => mutantsOf(file, texts.get(file)!));
const random = randomSource(Number(values.seed));
const drawn = all
  .map((mutant) => ({ mutant, key: random.uniform() }))
  .sort((a, b) => a.key - b.key)
  .slice(0, Number(values.sample))
  .map(({ mutant }) => mutant);

/** Test files by the file of core that they name in an import; the one of the same name first. */
const tests = readdirSync(join(root, "test"), { recursive: true, encoding: "utf8" })
  .filter((name) => /^(core|outside)\/.*\.test\.ts$/.test(name))
  .map((name) => ({ name, text: readFileSync(join(root, "test", name), "utf8") }));
const importers = new Map<string, string[]>();
for (const file of files) {
  const stem = file.slice(core.length + 1).replace(/\.ts$/, "");
  const own = tests.filter(({ text }) => text.includes(`core/${stem}.js"`));
  own.sort((a, b) => Number(b.name === `core/${stem}.test.ts`) - Number(a.name === `core/${stem}.test.ts`));
  importers.set(
    file,
    own.map(({ name }) => join(root, "test", name)),
  );
}
/** Tests of a file that no test imports: those of the files that use it. */
function testsOf(file: string, depth = 2): string[] {
  const own = importers.get(file) ?? [];
  if (own.length > 0 || depth === 0) return own;
  const name = file.slice(file.lastIndexOf("/") + 1).replace(/\.ts$/, ".js");
  const users = files.filter((other) => texts.get(other)!.includes(`/${name}"`));
  const theirs = [...new Set(users.flatMap((user) => testsOf(user, depth - 1)))].slice(0, 4);
  if (theirs.length > 0) return theirs;
  // Through the door only: the tests of its folder.
  const folder = file.slice(core.length + 1).split("/")[0]!;
  return tests.filter((one) => one.name.startsWith(`core/${folder}/`)).map((one) => join(root, "test", one.name));
}

let current: Mutant | null = null;
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
    testTimeout: 60_000,
  },
  {
    plugins: [
      {
        name: "mutant",
        enforce: "pre",
        load: (id: string) => (current?.file === id ? withMutant(texts.get(id)!, current) : null),
      },
    ],
  },
);

/** Children of this process that run tests. */
function killWorkers(): void {
  for (const pid of readdirSync("/proc").filter((name) => /^\d+$/.test(name))) {
    try {
      const stat = readFileSync(`/proc/${pid}/stat`, "utf8");
      const parent = Number(stat.slice(stat.lastIndexOf(")") + 2).split(" ")[1]);
      if (parent === process.pid && !readFileSync(`/proc/${pid}/cmdline`, "utf8").includes("esbuild"))
        process.kill(Number(pid), "SIGKILL");
    } catch {
      // It ended by itself.
    }
  }
}

async function tried(mutant: Mutant | null, testFiles: readonly string[]): Promise<"killed" | "alive" | "hung"> {
  current = mutant;
  for (const file of files) vitest.invalidateFile(file);
  let hung = false;
  const timer = setTimeout(() => {
    hung = true;
    killWorkers();
  }, 1000 * LONGEST_S);
  try {
    const specifications = (await vitest.globTestSpecifications([...testFiles])).filter(({ moduleId }) =>
      testFiles.includes(moduleId),
    );
    const { testModules, unhandledErrors } = await vitest.runTestSpecifications(specifications, false);
    if (hung) return "hung";
    const whole = testModules.length > 0 && testModules.every((module) => module.ok());
    return whole && unhandledErrors.length === 0 ? "alive" : "killed";
  } catch {
    return hung ? "hung" : "killed";
  } finally {
    clearTimeout(timer);
  }
}

const folderOf = (mutant: Mutant) =>
  mutant.file
    .slice(core.length + 1)
    .split("/")
    .slice(0, -1)[0] ?? "(top)";
const results: { mutant: Mutant; outcome: string }[] = [];
const until = Date.now() + 60_000 * Number(values.minutes);
for (const mutant of drawn) {
  if (Date.now() > until) break;
  const testFiles = testsOf(mutant.file);
  const outcome = testFiles.length === 0 ? "no test" : await tried(mutant, testFiles);
  results.push({ mutant, outcome });
  if (outcome === "alive" || outcome === "no test")
    console.error(`${outcome}: ${mutant.file.slice(root.length)}:${mutant.line} ${mutant.change}`);
  writeFileSync(join(root, values.out!), JSON.stringify(results));
}
await vitest.close();

const row = (name: string, list: readonly { outcome: string }[]): string => {
  const killed = list.filter(({ outcome }) => outcome === "killed" || outcome === "hung").length;
  const [low, high] = wilsonInterval(killed, list.length);
  const percent = (share: number) => `${(100 * share).toFixed(0)} %`;
  return `${name.padEnd(14)} ${String(list.length).padStart(5)} ${String(killed).padStart(7)} ${percent(killed / list.length).padStart(6)}   ${percent(low)} to ${percent(high)}`;
};
console.log(`${all.length} mutants in ${files.length} files; sample of ${results.length}, seed ${values.seed}`);
console.log("folder         tried  killed  share   95 % interval");
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
