import { readHistoryCsv, readHistoryJson } from "../history/index.js";
import { inputErrorFrom, withHistory } from "./history-store.js";
import { readTextFile } from "./input-file.js";

/** About half a million recordings. */
const LARGEST_HISTORY_BYTES = 400_000_000;

/** Adds an exported history, JSON or CSV, to the history; all or nothing where that is a file. */
export async function importHistoryFile(
  file: string,
  store: string | undefined,
): Promise<{ readonly added: number; readonly there: number; readonly place: string }> {
  const text = await readTextFile(file, "the history", LARGEST_HISTORY_BYTES);
  try {
    const content = /^\s*\{/.test(text.replace(/^\ufeff/, ""))
      ? readHistoryJson(text, file)
      : readHistoryCsv(text, file);
    return withHistory(store, true, (history) => ({ ...history.addAll(content), place: history.place }));
  } catch (error) {
    throw inputErrorFrom(error);
  }
}
