import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { openConnection } from "../../src/history/connection.js";
import { openHistory } from "../../src/history/index.js";
import { migrate, schemaVersion } from "../../src/history/migration.js";
import { SCHEMA_STEPS } from "../../src/history/schema.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-migration-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

let files = 0;

/** A history as version `version` of the schema left it, with one recording in the columns of version 1. */
function earlierHistory(version: number): string {
  const path = join(folder, `version-${version}-${files++}.db`);
  const connection = openConnection({ kind: "file", path }, true);
  migrate(connection, SCHEMA_STEPS.slice(0, version));
  expect(schemaVersion(connection)).toBe(version);
  if (version > 0) {
    connection.run("INSERT INTO battery (id, chemistry) VALUES ('B-0417', 'lead-acid')");
    connection.run(
      "INSERT INTO recording (hash, battery_id, at_s, source) VALUES ('abcdef0123', 'B-0417', 1770000000, 'old.csv')",
    );
    connection.run(
      "INSERT INTO estimate (recording_id, quantity, after_s, value, u) VALUES (1, 'internal-resistance', 1, 0.0101, 0.0005)",
    );
  }
  connection.close();
  return path;
}

describe("migrate", () => {
  for (let version = 0; version <= SCHEMA_STEPS.length; version++) {
    it(`openHistory() brings schema ${version} to the newest and keeps what it held`, () => {
      const history = openHistory({ kind: "file", path: earlierHistory(version) }, { make: false });
      expect(history.recordings()).toHaveLength(version > 0 ? 1 : 0);
      if (version > 0) {
        const [kept] = history.recordingsBy("abcdef");
        expect(kept).toMatchObject({ battery: "B-0417", source: "old.csv", requiredEnduranceMin: null });
        expect(kept.estimates[0]).toMatchObject({ quantity: "internal-resistance", afterS: 1, value: 0.0101 });
      }
      history.close();
    });
  }

  it("migrate() that fails leaves the schema and the data as they were", () => {
    const path = earlierHistory(1);
    const connection = openConnection({ kind: "file", path }, false);
    const broken = [SCHEMA_STEPS[0], ["ALTER TABLE recording ADD COLUMN weight_kg REAL", "DROP TABLE nowhere"]];
    expect(() => migrate(connection, broken)).toThrow(/nowhere/);
    expect(schemaVersion(connection)).toBe(1);
    expect(connection.all("SELECT * FROM recording")).toHaveLength(1);
    expect(Object.keys(connection.all("SELECT * FROM recording")[0])).not.toContain("weight_kg");
    connection.close();
  });
});
