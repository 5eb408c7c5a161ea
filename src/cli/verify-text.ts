import { withoutEmbedded } from "../report/embedded-data.js";

/** A place where a report says something else than its data would. */
export interface TextDifference {
  readonly line: number;
  readonly found: string;
  readonly due: string;
}

/** How an HTML report compares with the one drawn again from its data. */
export interface TextComparison {
  readonly differences: readonly TextDifference[];
  /** Whether the plotting library inside is the one that is installed here. */
  readonly sameLibrary: boolean;
}

const MOST_DIFFERENCES = 5;
const SHOWN_SIGNS = 60;

/** Compares two HTML reports line by line, their data blocks and their plotting libraries set aside. */
export function compareHtml(found: string, due: string): TextComparison {
  const foundParts = libraryApart(withoutEmbedded(found));
  const dueParts = libraryApart(withoutEmbedded(due));
  const foundLines = foundParts.rest.split("\n");
  const dueLines = dueParts.rest.split("\n");
  const differences: TextDifference[] = [];
  for (let i = 0; i < Math.max(foundLines.length, dueLines.length); i++) {
    const [one, other] = [foundLines[i] ?? "", dueLines[i] ?? ""];
    if (one !== other && differences.length < MOST_DIFFERENCES) differences.push(differenceOf(one, other, i + 1));
  }
  return { differences, sameLibrary: foundParts.library === dueParts.library };
}

const LIBRARY =
  /(<script type="application\/json" id="busdip-figures">[^<]*<\/script>\n<script>)([\s\S]*)(<\/script>\n<script>[\s\S]*?<\/script>\n<\/body>)/;

function libraryApart(html: string): { readonly rest: string; readonly library: string | null } {
  const parts = LIBRARY.exec(html);
  if (parts === null) return { rest: html, library: null };
  return { rest: html.replace(parts[0], () => parts[1]! + parts[3]!), library: parts[2]! };
}

/** The piece of two lines around the first sign that differs; of what is read, where that differs, not of its tags. */
function differenceOf(foundLine: string, dueLine: string, line: number): TextDifference {
  const [foundWords, dueWords] = [wordsOf(foundLine), wordsOf(dueLine)];
  const [found, due] = foundWords === dueWords ? [foundLine, dueLine] : [foundWords, dueWords];
  let at = 0;
  while (at < found.length && found[at] === due[at]) at++;
  const from = Math.max(0, at - SHOWN_SIGNS / 2);
  const piece = (text: string) => text.slice(from, from + SHOWN_SIGNS).replace(/\s+/g, " ");
  return { line, found: piece(found), due: piece(due) };
}

function wordsOf(line: string): string {
  return line
    .replace(/<[^<>]*>/g, " ")
    .replace(/ +/g, " ")
    .trim();
}
