import { existsSync, mkdirSync, rmSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { softwareVersion } from "../../src/cli/software-version.js";
import { openConnection } from "../../src/history/connection.js";
import { writeHistoryCsv, writeHistoryJson } from "../../src/history/index.js";
import { migrate } from "../../src/history/migration.js";
import { SCHEMA_STEPS } from "../../src/history/schema.js";
import { html, pdf, record } from "../cli/small-record.js";
import { entry } from "../history/entries.js";
import { archivedTexts } from "./archived-texts.js";
import { readArchive } from "./read-archive.js";

/**
 * Writes one file of each contract into the folder of this version, and beside them what this version reads from them.
 *
 * Run once, when a version is released: a folder that is there stays as it is, unless `--again` is said before the
 * release.
 */
const folder = new URL(`${softwareVersion()}/`, import.meta.url);
if (existsSync(folder) && !process.argv.includes("--again")) {
  console.error(`${fileURLToPath(folder)} is there already; an archive is not written anew`);
  process.exit(2);
}
rmSync(folder, { recursive: true, force: true });
mkdirSync(folder);
const write = (name: string, content: string | Uint8Array) => writeFileSync(new URL(name, folder), content);
for (const [name, text] of Object.entries(archivedTexts)) write(name, text);
write("result.json", record().resultText);
write("record.html", html(record()));
write("record.pdf", await pdf(record()));
const content = {
  batteries: [
    { id: "B-0417", chemistry: "lead-acid", cells: 12, capacityAh: 44, retiredOn: null, retiredBecause: null },
  ],
  installations: [
    { battery: "B-0417", aircraft: "ICE-2", bus: "", installedOn: "2026-02-01", removedOn: null, newLife: true },
  ],
  recordings: [entry(1), entry(2)],
};
write("history.json", writeHistoryJson(content));
write("history.csv", writeHistoryCsv(content));
SCHEMA_STEPS.forEach((_, step) => {
  const path = fileURLToPath(new URL(`history-schema-${step + 1}.db`, folder));
  const connection = openConnection({ kind: "file", path }, true);
  migrate(connection, SCHEMA_STEPS.slice(0, step + 1));
  connection.run("INSERT INTO battery (id, chemistry) VALUES ('B-0417', 'lead-acid')");
  connection.run(
    "INSERT INTO recording (hash, battery_id, at_s, source) VALUES ('abcdef0123', 'B-0417', 1770000000, 'old.csv')",
  );
  connection.run(
    "INSERT INTO estimate (recording_id, quantity, after_s, value, u) VALUES (1, 'internal-resistance', 1, 0.0101, 5e-4)",
  );
  connection.close();
});
write("said.json", `${JSON.stringify(await readArchive(folder), null, 1)}\n`);
