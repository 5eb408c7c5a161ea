import { type History, momentOf, openHistory, StoreError, storeLocation } from "../history/index.js";
import { InputError } from "../importers/input-error.js";

/**
 * Opens the history, lets `work` use it, and closes it again.
 *
 * @throws InputError where the history cannot be used
 */
export function withHistory<T>(named: string | undefined, make: boolean, work: (history: History) => T): T {
  let history: History | undefined;
  try {
    history = openHistory(storeLocation(named), { make });
    return work(history);
  } catch (error) {
    throw inputErrorFrom(error);
  } finally {
    history?.close();
  }
}

/** A complaint of the history as the sentence of this program. */
export function inputErrorFrom(error: unknown): unknown {
  if (!(error instanceof StoreError)) return error;
  return new InputError({ file: error.place, problem: error.problem, remedy: error.remedy });
}

/** Seconds since 1970-01-01 UTC of the date that a person wrote after `flag`. */
export function momentAfter(flag: string, text: string | undefined): number {
  if (text === undefined) {
    throw new InputError({
      problem: "the history needs to know when it was",
      remedy: `give the date as ${flag} 2026-03-02 or ${flag} 2026-03-02T10:30:00Z`,
    });
  }
  const moment = momentOf(text.trim());
  if (moment === null) {
    throw new InputError({ problem: `${flag} is '${text}'`, remedy: "write it as 2026-03-02 or 2026-03-02T10:30:00Z" });
  }
  return moment / 1000;
}

/** The day that a person wrote after `flag`, ISO 8601. */
export function dayAfter(flag: string, text: string | undefined): string {
  return new Date(1000 * momentAfter(flag, text)).toISOString().slice(0, 10);
}
