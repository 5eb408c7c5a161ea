import { copyFileSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { openHistory, readHistoryCsv, readHistoryJson } from "../../src/history/index.js";
import { parseLogDescription } from "../../src/importers/columns/log-description.js";
import { importLogs } from "../../src/importers/csv/csv-importer.js";
import { readMarks } from "../../src/importers/profile/marks.js";
import { readProfile } from "../../src/importers/profile/profile.js";
import { readTickedSheet } from "../../src/importers/run-sheet/ticked-sheet.js";
import { parseDial } from "../../src/importers/video/dial.js";
import { readResultJson } from "../../src/report/result-json.js";
import { means } from "../cli/small-record.js";

/** What each archived file says to the readers of this version, as plain JSON. */
export async function readArchive(folder: URL): Promise<Record<string, unknown>> {
  const bytes = (name: string): Uint8Array => readFileSync(new URL(name, folder));
  const text = (name: string): string => new TextDecoder().decode(bytes(name));
  const profile = readProfile(text("profile.yaml"), "profile.yaml");
  const log = bytes("recording.csv");
  const { recording } = await importLogs(
    [{ name: "recording.csv", size: log.length, open: () => [log] }],
    "voltage",
    {},
  );
  const result = readResultJson(text("result.json"));
  if (!result.ok) throw new Error(result.problem);
  const said = {
    "profile.yaml": profile,
    "marks.csv": readMarks(text("marks.csv"), "marks.csv", profile),
    "check.yaml": readTickedSheet(text("check.yaml"), "check.yaml", profile),
    "dial.yaml": parseDial(text("dial.yaml"), "dial.yaml"),
    "columns.yaml": parseLogDescription(text("columns.yaml"), "columns.yaml"),
    "recording.csv": {
      timesS: [...recording!.timesS],
      voltagesV: [...recording!.voltagesV],
      currentsA: [...recording!.current!.currentsA],
      readingUncertaintiesV: [...recording!.readingUncertaintiesV!],
    },
    "result.json": {
      schema: result.result.schema,
      verdicts: result.result.loads.map(({ id, verdict, depth_V }) => ({ id, verdict, depth_V })),
    },
    "record.html": await recordSays("record.html", bytes("record.html")),
    "record.pdf": await recordSays("record.pdf", bytes("record.pdf")),
    "history.json": readHistoryJson(text("history.json"), "history.json"),
    "history.csv": readHistoryCsv(text("history.csv"), "history.csv"),
    "history-schema-1.db": databaseSays(new URL("history-schema-1.db", folder)),
    "history-schema-2.db": databaseSays(new URL("history-schema-2.db", folder)),
  };
  return JSON.parse(JSON.stringify(said));
}

/** What a record carries and whether it is as it was written; its numbers may be computed otherwise by a later version. */
async function recordSays(name: string, bytes: Uint8Array): Promise<object> {
  const check = await checkRecord(name, bytes, means);
  const asWritten = check.lines.filter(({ what }) =>
    /^(seal|result\.json|recording\.csv|profile\.yaml|marks\.csv)$/.test(what),
  );
  return {
    lines: asWritten.map(({ what, state }) => ({ what, state })),
    files: [...check.files].map(([file, content]) => ({ file, length: content.length })),
    computedAgain: check.claims.length > 0,
    conclusion: check.madeBy?.version === means.softwareVersion ? undefined : conclusionOf(check.lines),
  };
}

function databaseSays(url: URL): object {
  const folder = mkdtempSync(join(tmpdir(), "busdip-archive-"));
  const path = join(folder, "history.db");
  copyFileSync(url, path);
  const history = openHistory({ kind: "file", path }, { make: false });
  try {
    const { batteries, installations, recordings } = history.content();
    return { batteries, installations, recordings };
  } finally {
    history.close();
    rmSync(folder, { recursive: true, force: true });
  }
}
