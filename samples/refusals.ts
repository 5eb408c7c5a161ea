import { readdirSync, readFileSync } from "node:fs";
import ts from "typescript";

const source = new URL("../src/", import.meta.url);
/** Places in a sentence that the file or the person fills in. */
const BLANK = "…";

/** Half a sentence as the program writes it; each of a choice, blanks where something is filled in. */
function wordsOf(node: ts.Expression): string[] {
  if (ts.isStringLiteral(node) || ts.isNoSubstitutionTemplateLiteral(node)) return [node.text];
  if (ts.isParenthesizedExpression(node)) return wordsOf(node.expression);
  if (ts.isConditionalExpression(node)) return [...wordsOf(node.whenTrue), ...wordsOf(node.whenFalse)];
  if (ts.isTemplateExpression(node)) {
    return [node.head.text + node.templateSpans.map(({ literal }) => BLANK + literal.text).join("")];
  }
  return [BLANK];
}

/** Problem and remedy of each object in a file that tells both: what an `InputError` is made of, there or elsewhere. */
function refusalsIn(text: string): (readonly [problem: string, remedy: string])[] {
  const found: (readonly [string, string])[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isObjectLiteralExpression(node)) {
      const half = (name: string): string[] => {
        const property = node.properties.find((one) => one.name?.getText() === name);
        return property !== undefined && ts.isPropertyAssignment(property) ? wordsOf(property.initializer) : [BLANK];
      };
      const tellsBoth = ["problem", "remedy"].every((name) =>
        node.properties.some((one) => one.name?.getText() === name),
      );
      const remedies = half("remedy").join(" / ");
      if (tellsBoth) for (const problem of half("problem")) if (problem !== BLANK) found.push([problem, remedies]);
    }
    ts.forEachChild(node, visit);
  };
  visit(ts.createSourceFile("file.ts", text, ts.ScriptTarget.ES2022, true));
  return found;
}

/** Whom a sentence concerns, by the folder of the program that says it. */
const PARTS: readonly (readonly [title: string, folder: string])[] = [
  ["Logs", "importers/csv"],
  ["Descriptions of columns", "importers/columns"],
  ["Profile and marks", "importers/profile"],
  ["Ticked run sheet", "importers/run-sheet"],
  ["Film clips and dials", "importers/video"],
  ["Files and clocks", "importers"],
  ["Commands and their options", "cli"],
];

/** The page of all sentences that bad input can get. */
export function messagesPage(): string {
  const seen = new Set<string>();
  const parts = PARTS.map(([title, folder]) => {
    const rows = readdirSync(new URL(`${folder}/`, source), { recursive: true, encoding: "utf8" })
      .filter((name) => name.endsWith(".ts"))
      .map((name) => `${folder}/${name}`.replaceAll("\\", "/"))
      .filter((name) => !seen.has(name))
      .sort()
      .flatMap((name) => {
        seen.add(name);
        return refusalsIn(readFileSync(new URL(name, source), "utf8"));
      })
      .map((halves) => halves.map((half) => half.replaceAll("|", "\\|")))
      .map(([problem, remedy]) => `| ${problem} | ${remedy} |`.replace(/\s*\n\s*/g, " "));
    return `## ${title}\n\n| what is wrong | what to do |\n|---|---|\n${[...new Set(rows)].sort().join("\n")}\n`;
  });
  return `# What the program says to bad input

One sentence on stderr, after the file and the line where they are known: what is wrong; what to do. The exit status is 2
and nothing was written. \`${BLANK}\` stands for what the file or the person gave, or for a list of what is possible.
Written by \`npx tsx samples/make-messages.ts\` from the program itself; a test holds the two equal.

${parts.join("\n")}`;
}
