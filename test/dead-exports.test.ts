import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";
import { describe, expect, it } from "vitest";

const root = new URL("..", import.meta.url).pathname;
/** Doors hand on what their files give. */
const DOORS = ["src/core/index.ts", "src/history/index.ts", "src/report/index.ts"];
/** Taken by name at run time: each command by the table of commands, the decoder through its door. */
const TAKEN_BY_NAME = new Set(["describeCommand"]);

function filesOf(folder: string): string[] {
  return readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
    .filter((name) => /\.tsx?$/.test(name) && !name.endsWith(".d.ts"))
    .map((name) => join(folder, name));
}

/** Every node of a file, outermost first. */
function* nodesOf(node: ts.Node): Generator<ts.Node> {
  yield node;
  const below: ts.Node[] = [];
  ts.forEachChild(node, (child) => {
    below.push(child);
  });
  for (const child of below) yield* nodesOf(child);
}

/** Functions, classes and values that a file exports; types are left to the compiler. */
function givenBy(source: ts.SourceFile): string[] {
  return source.statements.flatMap((statement): string[] => {
    const exported =
      ts.canHaveModifiers(statement) &&
      (ts.getModifiers(statement) ?? []).some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword);
    if (!exported) return [];
    if (ts.isVariableStatement(statement))
      return statement.declarationList.declarations.map(({ name }) => name.getText(source));
    return (ts.isFunctionDeclaration(statement) || ts.isClassDeclaration(statement)) && statement.name !== undefined
      ? [statement.name.text]
      : [];
  });
}

/** The name that a node takes from elsewhere: an import, a hand-on, or a field of what was imported at run time. */
function takenBy(node: ts.Node, source: ts.SourceFile): string | null {
  if (ts.isImportSpecifier(node) || ts.isExportSpecifier(node)) return (node.propertyName ?? node.name).text;
  if (ts.isBindingElement(node)) return (node.propertyName ?? node.name).getText(source);
  return ts.isPropertyAccessExpression(node) ? node.name.text : null;
}

const traffic = [...filesOf("src"), ...filesOf("test"), ...filesOf("samples"), "vite.config.ts"].map((file) => {
  const source = ts.createSourceFile(file, readFileSync(join(root, file), "utf8"), ts.ScriptTarget.ES2022, true);
  const taken = new Set([...nodesOf(source)].map((node) => takenBy(node, source)).filter((name) => name !== null));
  return { file, given: givenBy(source), taken };
});

/** Whether a door hands on everything that the file gives (`export * from`). */
function reachedWhole(file: string): boolean {
  const stem = file
    .split("/")
    .at(-1)!
    .replace(/\.tsx?$/, "");
  return DOORS.some((door) =>
    new RegExp(`export \\* from "[^"]*/${stem}\\.js"`).test(readFileSync(join(root, door), "utf8")),
  );
}

describe("exports of src", () => {
  it("are each used by another file", () => {
    const dead = traffic
      .filter(({ file }) => file.startsWith("src/") && !DOORS.includes(file) && !reachedWhole(file))
      .flatMap(({ file, given }) =>
        given
          .filter((name) => !TAKEN_BY_NAME.has(name))
          .filter((name) => !traffic.some((other) => other.file !== file && other.taken.has(name)))
          .map((name) => `${file}: ${name}`),
      );
    expect(dead).toEqual([]);
  });
});
