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

/** A test file that reaches a source file by imports. */
export interface ReachingTest {
  readonly path: string;
  /** The same path under test. */
  readonly isOwn: boolean;
}

/**
 * For each source file the test files of test/core and test/outside that reach it by imports: its own and those of its
 * folder that import it first, then by the imports between; of these the quickest by `secondsOf` (paths from the root), new
 * ones before all.
 */
export function testsByFile(
  root: string,
  secondsOf: Readonly<Record<string, number>>,
): ReadonlyMap<string, readonly ReachingTest[]> {
  const tests = ["test/core", "test/outside"].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
      .filter((name) => name.endsWith(".test.ts"))
      .map((name) => join(root, folder, name)),
  );
  const imports = new Map<string, readonly string[]>();
  const reached = new Map<string, (ReachingTest & { readonly distance: number; readonly seconds: number })[]>();
  for (const path of tests) {
    const seconds = secondsOf[path.slice(root.length)] ?? 0;
    const stepsTo = new Map([[path, 0]]);
    for (const [file, steps] of stepsTo) {
      if (!imports.has(file)) imports.set(file, importsOf(file));
      for (const next of imports.get(file)!) if (!stepsTo.has(next)) stepsTo.set(next, steps + 1);
    }
    for (const [file, steps] of stepsTo) {
      const mirror = file.replace(join(root, "src"), join(root, "test")).replace(/\.ts$/, ".test.ts");
      const isOwn = path === mirror;
      const isNear = isOwn || (steps === 1 && dirname(path) === dirname(mirror));
      const list = reached.get(file) ?? [];
      list.push({ path, isOwn, distance: isNear ? 0 : Math.min(steps, FAR), seconds });
      reached.set(file, list);
    }
  }
  return new Map(
    [...reached].map(([file, list]) => [
      file,
      list.sort((a, b) => a.distance - b.distance || a.seconds - b.seconds || (a.path < b.path ? -1 : 1)),
    ]),
  );
}
