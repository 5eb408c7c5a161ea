import { existsSync, mkdirSync, statSync } from "node:fs";
import { dirname } from "node:path";
import Database from "libsql";
import { placeName, type StoreLocation } from "./location.js";
import { StoreError, storeErrorFrom } from "./store-error.js";

export type SqlValue = string | number | null;
export type SqlRow = Readonly<Record<string, SqlValue>>;

/** An open database; every complaint of it leaves as a `StoreError`. */
export interface Connection {
  readonly place: string;
  readonly onServer: boolean;
  run(sql: string, values?: readonly SqlValue[]): { readonly changes: number };
  all(sql: string, values?: readonly SqlValue[]): readonly SqlRow[];
  /** Runs the work in one transaction that begins with the write lock; an error undoes it all. */
  transaction<T>(work: () => T): T;
  /** Makes what a transaction acknowledges outlive a power cut; changes the file, so only for one that is ours. */
  makeDurable(): void;
  close(): void;
}

/** How long to wait for another writer. */
const PATIENCE_MS = 15_000;

type OpenDatabase = InstanceType<typeof Database>;
type Statement = Database.Statement<SqlValue[]>;

/**
 * Opens the database; a file and its folder are made where `make` is set.
 *
 * @throws StoreError where it cannot be opened
 */
export function openConnection(location: StoreLocation, make: boolean): Connection {
  const place = placeName(location);
  const guarded = <T>(work: () => T): T => {
    try {
      return work();
    } catch (error) {
      throw storeErrorFrom(error, place);
    }
  };
  if (location.kind === "file") prepareFile(location.path, make);
  const database = guarded(() => openDatabase(location));
  const statements = new Map<string, Statement>();
  const prepared = (sql: string): Statement => {
    const kept = statements.get(sql) ?? database.prepare<SqlValue[]>(sql);
    statements.set(sql, kept);
    return kept;
  };
  return {
    place,
    onServer: location.kind === "server",
    run: (sql, values = []) => guarded(() => ({ changes: prepared(sql).run(...values).changes })),
    all: (sql, values = []) => guarded(() => prepared(sql).all(...values) as SqlRow[]),
    transaction: (work) =>
      guarded(() => {
        database.exec("BEGIN IMMEDIATE");
        try {
          const result = work();
          database.exec("COMMIT");
          return result;
        } catch (error) {
          undo(database);
          throw error;
        }
      }),
    makeDurable: () => {
      if (location.kind === "server") return;
      guarded(() => {
        database.pragma("journal_mode = WAL");
        database.pragma("synchronous = FULL");
        database.pragma("foreign_keys = ON");
      });
    },
    close: () => {
      if (location.kind === "file") settle(database);
      database.close();
    },
  };
}

function openDatabase(location: StoreLocation): OpenDatabase {
  if (location.kind === "server") {
    // The library speaks http; a server's own scheme names the same protocol over TLS.
    return new Database(location.url, { authToken: location.token ?? "" } as Database.Options);
  }
  return new Database(location.path, { timeout: PATIENCE_MS });
}

function prepareFile(path: string, make: boolean): void {
  if (existsSync(path)) {
    if (statSync(path).isDirectory()) {
      throw new StoreError("not-a-database", path, "this is a folder", "give the file of the history after --store");
    }
    return;
  }
  if (!make) {
    throw new StoreError(
      "not-found",
      path,
      "there is no history yet",
      "add a recording with busdip history add or busdip analyze --store",
    );
  }
  try {
    mkdirSync(dirname(path), { recursive: true });
  } catch {
    throw new StoreError(
      "write-protected",
      path,
      "the folder of this history cannot be made",
      "give another file after --store",
    );
  }
}

/** Writes the log back into the file, so that the file alone is the whole history; the library does not do it itself. */
function settle(database: OpenDatabase): void {
  try {
    database.pragma("wal_checkpoint(TRUNCATE)");
  } catch {
    // Another process is at work, or the disk is full: the log stays beside the file and is read with it.
  }
}

/** A transaction that the database has undone itself leaves nothing to undo. */
function undo(database: OpenDatabase): void {
  try {
    database.exec("ROLLBACK");
  } catch {
    // The first error is the one to report.
  }
}
