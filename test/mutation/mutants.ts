import ts from "typescript";
import { functionAround } from "./what-ran.js";

/** One small change of a source text. */
export interface Mutant {
  readonly file: string;
  readonly start: number;
  readonly end: number;
  readonly text: string;
  readonly line: number;
  /** Where the function around it begins; -1 where it stands in none. */
  readonly within: number;
  /** What stood there and what stands there now. */
  readonly change: string;
}

const SWAPS: Readonly<Partial<Record<ts.SyntaxKind, readonly string[]>>> = {
  [ts.SyntaxKind.PlusToken]: ["-"],
  [ts.SyntaxKind.MinusToken]: ["+"],
  [ts.SyntaxKind.AsteriskToken]: ["/"],
  [ts.SyntaxKind.SlashToken]: ["*"],
  [ts.SyntaxKind.PercentToken]: ["*"],
  [ts.SyntaxKind.LessThanToken]: ["<=", ">="],
  [ts.SyntaxKind.LessThanEqualsToken]: ["<", ">"],
  [ts.SyntaxKind.GreaterThanToken]: [">=", "<="],
  [ts.SyntaxKind.GreaterThanEqualsToken]: [">", "<"],
  [ts.SyntaxKind.EqualsEqualsEqualsToken]: ["!=="],
  [ts.SyntaxKind.ExclamationEqualsEqualsToken]: ["==="],
  [ts.SyntaxKind.AmpersandAmpersandToken]: ["||"],
  [ts.SyntaxKind.BarBarToken]: ["&&"],
  [ts.SyntaxKind.PlusEqualsToken]: ["-="],
  [ts.SyntaxKind.MinusEqualsToken]: ["+="],
  [ts.SyntaxKind.AsteriskEqualsToken]: ["/="],
  [ts.SyntaxKind.SlashEqualsToken]: ["*="],
};
const NAMES: Readonly<Record<string, string>> = {
  min: "max",
  max: "min",
  some: "every",
  every: "some",
  floor: "ceil",
  ceil: "floor",
};

const LEFT_OUT: ReadonlySet<ts.SyntaxKind> = new Set([
  ts.SyntaxKind.ImportDeclaration,
  ts.SyntaxKind.InterfaceDeclaration,
  ts.SyntaxKind.TypeAliasDeclaration,
  ts.SyntaxKind.ThrowStatement,
]);

type Put = (node: ts.Node, replacement: string) => void;

function mutateOperator(node: ts.BinaryExpression, put: Put): void {
  for (const other of SWAPS[node.operatorToken.kind] ?? []) put(node.operatorToken, other);
  if (node.operatorToken.kind === ts.SyntaxKind.QuestionQuestionToken) put(node, `(${node.left.getText()})!`);
}

function mutateSign(node: ts.PrefixUnaryExpression, put: Put): void {
  const minus = node.operator === ts.SyntaxKind.MinusToken && !ts.isNumericLiteral(node.operand);
  if (minus || node.operator === ts.SyntaxKind.ExclamationToken) put(node, node.operand.getText());
}

function mutateNumber(node: ts.NumericLiteral, put: Put): void {
  const value = Number(node.text);
  put(node, value === 0 ? "1" : value === 1 ? "0" : `(${node.text} * 1.1)`);
}

function mutateCall({ expression, arguments: [first] }: ts.CallExpression, node: ts.Node, put: Put): void {
  if (!ts.isPropertyAccessExpression(expression)) return;
  const { name } = expression;
  const other = NAMES[name.text];
  if (other !== undefined) put(name, other);
  const dropped = expression.expression.getText() === "Math" && (name.text === "abs" || name.text === "sqrt");
  if (dropped) put(node, `(${first!.getText()})`);
}

/** All mutants of a file: operators, conditions, numbers, signs, calls with an opposite, statements left out. */
export function mutantsOf(file: string, text: string): Mutant[] {
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.ES2022, true);
  const found: Mutant[] = [];
  const put = (node: ts.Node, replacement: string): void => {
    const start = node.getStart(source);
    const before = text.slice(start, node.end);
    const line = source.getLineAndCharacterOfPosition(start).line + 1;
    const shown = before.length > 60 ? `${before.slice(0, 57)}...` : before;
    const change = `${shown.replace(/\s+/g, " ")} -> ${replacement.slice(0, 60) || "nothing"}`;
    found.push({ file, start, end: node.end, text: replacement, line, within: functionAround(node, source), change });
  };
  const visit = (node: ts.Node): void => {
    // Types have no behaviour, and the words of an error are not the judgement.
    if (LEFT_OUT.has(node.kind) || ts.isTypeNode(node)) return;
    if (ts.isBinaryExpression(node)) mutateOperator(node, put);
    if (ts.isIfStatement(node)) for (const word of ["true", "false"]) put(node.expression, word);
    if (ts.isWhileStatement(node)) put(node.expression, "false");
    if (ts.isConditionalExpression(node)) for (const word of ["true", "false"]) put(node.condition, word);
    if (ts.isNumericLiteral(node)) mutateNumber(node, put);
    if (ts.isPrefixUnaryExpression(node)) mutateSign(node, put);
    if (ts.isCallExpression(node)) mutateCall(node, node, put);
    if (ts.isExpressionStatement(node)) put(node, ";");
    ts.forEachChild(node, visit);
  };
  visit(source);
  return found;
}

/** The text with the mutant in it. */
export function withMutant(text: string, mutant: Mutant): string {
  return text.slice(0, mutant.start) + mutant.text + text.slice(mutant.end);
}

/** False if the text cannot be parsed: such a change would fail every test and show nothing of them. */
export function isWellFormed(text: string): boolean {
  return ts.transpileModule(text, { reportDiagnostics: true }).diagnostics!.length === 0;
}
