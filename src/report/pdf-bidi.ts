import bidiFactory from "bidi-js";

// The package's types name an export by default; as a module of Node it is the function itself.
const bidi = (bidiFactory as unknown as typeof bidiFactory.default)();

const RIGHT_TO_LEFT =
  /[\p{Script=Hebrew}\p{Script=Arabic}\p{Script=Syriac}\p{Script=Thaana}\p{Script=Nko}\u200f\u202b\u202e\u2067]/u;
const CONTROLS = /[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]/g;

/** Whether a text must be put in order before it is drawn from left to right. */
export function needsOrdering(text: string): boolean {
  return RIGHT_TO_LEFT.test(text);
}

/** Letters that run one way, in the order in which they are read. */
export interface DirectedRun {
  readonly text: string;
  readonly rightToLeft: boolean;
}

/** One line of a text: its runs from left to right as they stand on paper. */
export interface DirectedLine {
  readonly runs: readonly DirectedRun[];
  /** Whether the paragraph begins at the right. */
  readonly fromRight: boolean;
}

/**
 * A text broken into lines no wider than `width`, each with its runs in the order in which they stand. Lines break at
 * spaces; a word wider than the line is broken where the line ends. The direction is that of the first letter outside of
 * isolated labels.
 *
 * Source: UAX 9, Unicode Bidirectional Algorithm, L1 to L4 (`bidi-js`).
 */
export function directedLines(text: string, width: number, widthOf: (text: string) => number): DirectedLine[] {
  const levels = bidi.getEmbeddingLevels(text, "auto");
  const fromRight = (levels.paragraphs[0]?.level ?? 0) % 2 === 1;
  return lineRanges(text, width, (piece) => widthOf(withoutControls(piece))).map(({ start, end }) => {
    if (start === end) return { runs: [], fromRight };
    const order = bidi.getReorderedIndices(text, levels, start, end - 1).slice(start, end);
    return { runs: runsOf(text, order, levels.levels), fromRight };
  });
}

/** The text without the signs that only tell directions. */
export function withoutControls(text: string): string {
  return text.replace(CONTROLS, "");
}

/** Whether a font lays these letters out from the right by itself. */
export function laidOutFromRight({ text, rightToLeft }: DirectedRun): boolean {
  return rightToLeft && RIGHT_TO_LEFT.test(text);
}

function runsOf(text: string, order: readonly number[], levels: Uint8Array): DirectedRun[] {
  const runs: { from: number; to: number; rightToLeft: boolean }[] = [];
  for (const index of order) {
    const rightToLeft = levels[index]! % 2 === 1;
    const last = runs.at(-1);
    if (last !== undefined && last.rightToLeft === rightToLeft && index === (rightToLeft ? last.from - 1 : last.to)) {
      if (rightToLeft) last.from = index;
      else last.to = index + 1;
    } else runs.push({ from: index, to: index + 1, rightToLeft });
  }
  return runs
    .map(({ from, to, rightToLeft }) => {
      const piece = withoutControls(text.slice(from, to));
      return { text: rightToLeft ? piece.replace(/./gsu, mirrored) : piece, rightToLeft };
    })
    .filter((run) => run.text !== "");
}

function mirrored(sign: string): string {
  return bidi.getMirroredCharacter(sign) ?? sign;
}

function lineRanges(text: string, width: number, widthOf: (text: string) => number) {
  const lines: { start: number; end: number }[] = [];
  let start = 0;
  let end = 0;
  for (const match of text.matchAll(/[^ ]+ */g)) {
    const next = match.index + match[0].length;
    if (end > start && widthOf(text.slice(start, next).trimEnd()) > width) {
      lines.push({ start, end });
      start = end;
    }
    end = next;
    while (widthOf(text.slice(start, end).trimEnd()) > width) {
      const cut = longestFitting(text.slice(start, end), width, widthOf);
      lines.push({ start, end: start + cut });
      start += cut;
    }
  }
  if (end > start || lines.length === 0) lines.push({ start, end: Math.max(end, start) });
  return lines;
}

/** How much of a word fits on a line, at least one sign. */
function longestFitting(word: string, width: number, widthOf: (text: string) => number): number {
  const signs = [...word];
  let taken = signs.length - 1;
  while (taken > 1 && widthOf(signs.slice(0, taken).join("")) > width) taken--;
  return signs.slice(0, Math.max(1, taken)).join("").length;
}
