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

/** For each source file the test files of test/core and test/outside that reach it by imports, the nearest first, of these the
 * shortest. */
export function testsByFile(root: string): ReadonlyMap<string, readonly string[]> {
  const tests = ["test/core", "test/outside"].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
      .filter((name) => name.endsWith(".test.ts"))
      .map((name) => join(root, folder, name)),
  );
  const imports = new Map<string, readonly string[]>();
  const reached = new Map<string, { test: string; steps: number; length: number }[]>();
  for (const test of tests) {
    const length = readFileSync(test).length;
    const stepsTo = new Map([[test, 0]]);
    for (const [file, steps] of stepsTo) {
      if (!imports.has(file)) imports.set(file, importsOf(file));
      for (const next of imports.get(file)!) if (!stepsTo.has(next)) stepsTo.set(next, steps + 1);
    }
    for (const [file, steps] of stepsTo) {
      const list = reached.get(file) ?? [];
      list.push({ test, steps, length });
      reached.set(file, list);
    }
  }
  return new Map(
    [...reached].map(([file, list]) => [
      file,
      list.sort((a, b) => a.steps - b.steps || a.length - b.length).map(({ test }) => test),
    ]),
  );
}
