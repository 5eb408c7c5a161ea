import { mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import ts from "typescript";

const ROOT = new URL("../../", import.meta.url).pathname;

/** Copies the history's modules as plain JavaScript into a folder, so that a child process starts at once; returns the adder's path. */
export function transpiledAdder(folder: string): string {
  const sources = [
    ...readdirSync(join(ROOT, "src/history")).map((name) => join(ROOT, "src/history", name)),
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
