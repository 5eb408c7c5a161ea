import ts from "typescript";

/** Where a function begins that is the nearest around a node and has a body in braces; -1 for none: the file as a whole. */
export function functionAround(node: ts.Node, source: ts.SourceFile): number {
  for (let at: ts.Node | undefined = node.parent; at !== undefined; at = at.parent) {
    if (bodyOf(at) !== null) return at.getStart(source);
  }
  return -1;
}

function bodyOf(node: ts.Node): ts.Block | null {
  const { body } = node as { body?: ts.Node };
  return ts.isFunctionLike(node) && body !== undefined && ts.isBlock(body) ? body : null;
}

/** The text with a note in each function that it ran: `file:start` goes into the set `whatRan`, where there is one. */
export function traced(file: string, text: string): string {
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.ES2022, true);
  const notes: { readonly at: number; readonly key: string }[] = [];
  const visit = (node: ts.Node): void => {
    const body = bodyOf(node);
    if (body !== null) notes.push({ at: body.getStart(source) + 1, key: `${file}:${node.getStart(source)}` });
    ts.forEachChild(node, visit);
  };
  visit(source);
  return notes
    .sort((a, b) => b.at - a.at)
    .reduce(
      (out, { at, key }) => `${out.slice(0, at)} globalThis.whatRan?.add(${JSON.stringify(key)}); ${out.slice(at)}`,
      text,
    );
}
