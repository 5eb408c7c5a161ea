import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { SCHEMA_STEPS } from "../../src/history/schema.js";
import { readArchive } from "./read-archive.js";

const here = new URL("./", import.meta.url);
const versions = readdirSync(here, { withFileTypes: true })
  .filter((entry) => entry.isDirectory())
  .map(({ name }) => name);

describe("files that released versions wrote", () => {
  it("are kept for the first version", () => {
    expect(versions).toContain("0.1.0");
  });

  it.each(versions)("of %s say to this version what they said to that one", async (version) => {
    const folder = new URL(`${version}/`, here);
    const said = JSON.parse(readFileSync(new URL("said.json", folder), "utf8")) as Record<string, unknown>;
    const now = await readArchive(folder);
    // A later version may read more out of a file; what was said before still stands.
    for (const [name, before] of Object.entries(said)) expect(now[name], name).toMatchObject(before as object);
  });

  it.each(versions)("of %s hold every contract", (version) => {
    const files = readdirSync(new URL(`${version}/`, here));
    for (const name of ["profile.yaml", "marks.csv", "check.yaml", "dial.yaml", "columns.yaml", "recording.csv"])
      expect(files).toContain(name);
    for (const name of ["result.json", "record.html", "record.pdf", "history.json", "history.csv"])
      expect(files).toContain(name);
  });

  it("hold a history of every schema that there was", () => {
    const files = versions.flatMap((version) => readdirSync(new URL(`${version}/`, here)));
    SCHEMA_STEPS.forEach((_, step) => {
      expect(files).toContain(`history-schema-${step + 1}.db`);
    });
  });
});
