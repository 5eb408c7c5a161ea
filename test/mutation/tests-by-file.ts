import { existsSync, readdirSync, readFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";

/** Files of the project that a text imports, as absolute paths of their TypeScript sources. */
function importsOf(file: string): string[] {
  const text = readFileSync(file, "utf8");
  const names = [...text.matchAll(/(?:from|import)\s*\(?\s*"(\.[^"]+)"/g)].map((match) => match[1]!);
  return names
    .map((name) => resolve(dirname(file), name.replace(/\.js$/, ".ts")))
    .filter((path) => path.endsWith(".ts") && existsSync(path));
}

/** Imports between a test and a file beyond which it matters no more how many they are. */
const FAR = 3;

/**
 * For each source file the test files of test/core and test/outside that reach it by imports: its own first (the same path
 * under test), then those with the fewest imports between, of these the quickest by `secondsOf` (paths from the root).
 */
export function testsByFile(
  root: string,
  secondsOf: Readonly<Record<string, number>>,
): ReadonlyMap<string, readonly string[]> {
  const tests = ["test/core", "test/outside"].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
      .filter((name) => name.endsWith(".test.ts"))
      .map((name) => join(root, folder, name)),
  );
  const imports = new Map<string, readonly string[]>();
  const reached = new Map<string, { test: string; steps: number; seconds: number }[]>();
  for (const test of tests) {
    const seconds = secondsOf[test.slice(root.length)] ?? Number.POSITIVE_INFINITY;
    const stepsTo = new Map([[test, 0]]);
    for (const [file, steps] of stepsTo) {
      if (!imports.has(file)) imports.set(file, importsOf(file));
      for (const next of imports.get(file)!) if (!stepsTo.has(next)) stepsTo.set(next, steps + 1);
    }
    for (const [file, steps] of stepsTo) {
      const list = reached.get(file) ?? [];
      const isOwn = test === file.replace(join(root, "src"), join(root, "test")).replace(/\.ts$/, ".test.ts");
      list.push({ test, steps: isOwn ? 0 : Math.min(steps, FAR), seconds });
      reached.set(file, list);
    }
  }
  return new Map(
    [...reached].map(([file, list]) => [
      file,
      list
        .sort((a, b) => a.steps - b.steps || compared(a.seconds, b.seconds) || (a.test < b.test ? -1 : 1))
        .map(({ test }) => test),
    ]),
  );
}

/** Infinite ones are equal. */
function compared(a: number, b: number): number {
  return a === b ? 0 : a - b;
}
