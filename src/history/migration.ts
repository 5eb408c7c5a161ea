import type { Connection } from "./connection.js";
import { SCHEMA_STEPS } from "./schema.js";
import { StoreError } from "./store-error.js";

/**
 * Refuses a database of another kind or one that a newer version of the program has written; changes nothing.
 *
 * @throws StoreError
 */
export function refuseOthers(connection: Connection, newest: number = SCHEMA_STEPS.length): void {
  const version = schemaVersion(connection);
  if (version > newest) throw newerSchema(connection.place, version, newest);
  if (version === 0) refuseForeign(connection);
}

/**
 * Brings a database to the newest schema, forward only, each step in a transaction of its own.
 *
 * @throws StoreError for a database of another kind or one that a newer version of the program has written
 */
export function migrate(connection: Connection, steps: readonly (readonly string[])[] = SCHEMA_STEPS): void {
  if (schemaVersion(connection) === steps.length) return;
  for (;;) {
    // Asked again with the write lock held: another process may have been quicker.
    const done = connection.transaction(() => {
      const version = schemaVersion(connection);
      if (version > steps.length) throw newerSchema(connection.place, version, steps.length);
      if (version === steps.length) return true;
      if (version === 0) {
        refuseForeign(connection);
        connection.run("CREATE TABLE history_schema (version INTEGER NOT NULL) STRICT");
        connection.run("INSERT INTO history_schema (version) VALUES (0)");
      }
      for (const statement of steps[version]) connection.run(statement);
      connection.run("UPDATE history_schema SET version = ?", [version + 1]);
      return version + 1 === steps.length;
    });
    if (done) return;
  }
}

/** Version of the schema; 0 for an empty database. */
export function schemaVersion(connection: Connection): number {
  const table = connection.all("SELECT name FROM sqlite_master WHERE type = 'table' AND name = 'history_schema'");
  if (table.length === 0) return 0;
  return Number(connection.all("SELECT version FROM history_schema")[0]?.version ?? 0);
}

function refuseForeign(connection: Connection): void {
  const others = connection.all("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'");
  if (others.length > 0) {
    throw new StoreError(
      "not-a-history",
      connection.place,
      "this database belongs to another program",
      "give another file after --store",
    );
  }
}

function newerSchema(place: string, version: number, known: number): StoreError {
  return new StoreError(
    "newer-schema",
    place,
    `this history was written by a newer version of busdip (schema ${version}, this one knows ${known})`,
    "use that version",
  );
}
