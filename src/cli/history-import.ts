import { readHistoryCsv, readHistoryJson } from "../history/index.js";
import { inputErrorFrom, withHistory } from "./history-store.js";
import { twinsText } from "./history-tables.js";
import { readTextFile } from "./input-file.js";

/** About half a million recordings. */
const LARGEST_HISTORY_BYTES = 400_000_000;

/** Adds an exported history, JSON or CSV, to the history; all or nothing where that is a file. */
export async function importHistoryFile(
  file: string,
  store: string | undefined,
): Promise<{ readonly added: number; readonly there: number; readonly place: string; readonly twins: string | null }> {
  const text = await readTextFile(file, "the history", LARGEST_HISTORY_BYTES);
  try {
    const content = /^\s*\{/.test(text.replace(/^\ufeff/, ""))
      ? readHistoryJson(text, file)
      : readHistoryCsv(text, file);
    return withHistory(store, true, (history) => {
      const count = history.addAll(content);
      return { ...count, place: history.place, twins: count.added === 0 ? null : twinsText(history.twins()) };
    });
  } catch (error) {
    throw inputErrorFrom(error);
  }
}
