import { fork } from "node:child_process";
import { copyFileSync, existsSync, mkdtempSync, readFileSync } from "node:fs";
import { setPriority, tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { TARGETS } from "./targets.js";

/**
 * `npm run fuzz`: inputs changed at random, a process for each target, until the minutes are over. An answer or one
 * sentence is what may come of an input; anything else is kept in a folder that is named at the end.
 */
const { values } = parseArgs({
  options: {
    minutes: { type: "string", default: "2" },
    target: { type: "string", multiple: true },
    seed: { type: "string", default: "1" },
  },
});
const names = values.target?.flatMap((text) => text.split(",")) ?? Object.keys(TARGETS);
for (const name of names) {
  if (TARGETS[name] !== undefined) continue;
  console.error(`There is no target ${name}; there are ${Object.keys(TARGETS).join(", ")}`);
  process.exit(2);
}
const folder = mkdtempSync(join(tmpdir(), "busdip-fuzz-"));
const secondsEach = (60 * Number(values.minutes)) / names.length;
/** Longest silence; a processor that is shared makes seeds slowly. */
const SILENT_MS = 240_000;
setPriority(10);

/** One target in a process of its own; false where it died or fell silent, its last input then being kept. */
function run(name: string): Promise<boolean> {
  const child = fork(
    fileURLToPath(new URL("run-target.ts", import.meta.url)),
    [name, String(secondsEach), values.seed!, folder],
    { execArgv: ["--import", "tsx", "--max-old-space-size=1024"], stdio: ["ignore", "inherit", "inherit", "ipc"] },
  );
  let timer = setTimeout(() => child.kill("SIGKILL"), SILENT_MS);
  child.on("message", () => {
    clearTimeout(timer);
    timer = setTimeout(() => child.kill("SIGKILL"), SILENT_MS);
  });
  return new Promise((resolve) => {
    child.on("close", (code, signal) => {
      clearTimeout(timer);
      if (code === 0) return resolve(true);
      const input = join(folder, `${name}.input`);
      if (existsSync(input)) copyFileSync(input, join(folder, `${name}-find-end`));
      console.error(`${name}: ended with ${signal ?? code}; the input is ${folder}/${name}-find-end`);
      resolve(false);
    });
  });
}

const rows = ["target   inputs   kinds of outcome   finds   slowest s   most MB   processor s"];
let finds = 0;
for (const name of names) {
  const whole = await run(name);
  if (!whole) finds++;
  const path = join(folder, `${name}.json`);
  if (!existsSync(path)) continue;
  const facts = JSON.parse(readFileSync(path, "utf8"));
  finds += facts.finds;
  const cells = [
    facts.count,
    facts.kinds,
    facts.finds,
    facts.slowestS.toFixed(2),
    Math.round(facts.largestBytes / 1e6),
  ];
  rows.push([name.padEnd(8), ...cells, Math.round(facts.cpuS)].map((cell) => String(cell).padStart(7)).join("  "));
}
console.log(rows.join("\n"));
console.log(finds === 0 ? "Nothing was found." : `${finds} finds in ${folder}`);
process.exitCode = finds === 0 ? 0 : 1;
