/** The known word that a mistyped one most likely meant, or null when none is near. */
export function nearestWord(typed: string, known: readonly string[]): string | null {
  let nearest: string | null = null;
  let leastEditCount = Math.max(2, Math.floor(typed.length / 3)) + 1;
  for (const word of known) {
    const editCount = editDistance(typed.toLowerCase(), word.toLowerCase());
    if (editCount < leastEditCount) {
      nearest = word;
      leastEditCount = editCount;
    }
  }
  return nearest;
}

/** Fewest insertions, deletions and replacements of one character that turn one word into the other. */
function editDistance(from: string, to: string): number {
  let row = Array.from({ length: to.length + 1 }, (_, index) => index);
  for (let i = 1; i <= from.length; i++) {
    const next = [i];
    for (let j = 1; j <= to.length; j++) {
      const replaced = row[j - 1]! + (from[i - 1] === to[j - 1] ? 0 : 1);
      next.push(Math.min(replaced, row[j]! + 1, next[j - 1]! + 1));
    }
    row = next;
  }
  return row[to.length]!;
}
