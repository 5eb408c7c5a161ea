import { mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import ts from "typescript";

const ROOT = new URL("../../", import.meta.url).pathname;

/** Copies the history's modules, and the core's beneath them, as plain JavaScript into a folder, so that a child process starts at once; returns the adder's path. */
export function transpiledAdder(folder: string): string {
  const sources = [
    ...modulesIn("src/core"),
    ...modulesIn("src/history"),
    join(ROOT, "test/history/adder.ts"),
    join(ROOT, "test/history/entries.ts"),
  ];
  for (const source of sources) {
    const target = join(folder, relative(ROOT, source)).replace(/\.ts$/, ".js");
    mkdirSync(dirname(target), { recursive: true });
    const { outputText } = ts.transpileModule(readFileSync(source, "utf8"), {
      compilerOptions: { module: ts.ModuleKind.ESNext, target: ts.ScriptTarget.ES2022, verbatimModuleSyntax: true },
    });
    writeFileSync(target, outputText);
  }
  writeFileSync(join(folder, "package.json"), '{"type":"module"}');
  symlinkSync(join(ROOT, "node_modules"), join(folder, "node_modules"));
  return join(folder, "test/history/adder.js");
}

/** Its modules, those of its folders too. */
function modulesIn(folder: string): string[] {
  return readdirSync(join(ROOT, folder), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".ts") && !name.endsWith(".d.ts"))
    .map((name) => join(ROOT, folder, name));
}
