import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { importHistoryFile } from "../../src/cli/history-import.js";
import { readPlotlySource } from "../../src/cli/report-files.js";
import { softwareVersion } from "../../src/cli/software-version.js";
import { judgeTrends, writeReport } from "../../src/cli/trend.js";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { sealed, withoutSeal } from "../../src/report/seal.js";
import { means as usual } from "./small-record.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-test-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const store = join(folder, "history.db");
await importHistoryFile(new URL("../../samples/history/ice-2-history.json", import.meta.url).pathname, store);
const means = { ...usual, softwareVersion: softwareVersion(), plotlySource: readPlotlySource };

async function trendPage(battery: string | undefined): Promise<Uint8Array> {
  const out = join(folder, battery ?? "fleet");
  return readFileSync(await writeReport(await judgeTrends(battery, { store, out, limitPercent: 30 }), out));
}

const page = await trendPage("B-0417");
const text = new TextDecoder().decode(withoutSeal(page, "html"));
const resealed = (other: string) => sealed(new TextEncoder().encode(other), "html");
const changed = async (bytes: Uint8Array) =>
  (await checkRecord("trend.html", bytes, means)).lines.filter((line) => line.state === "changed");

describe("checkRecord() of a trend record", () => {
  it.each([["B-0417"], [undefined]])(
    "computes the trend of %s again from the history inside, and finds it intact",
    async (battery) => {
      const found = await checkRecord("trend.html", await trendPage(battery), means);
      expect(found.lines.filter((line) => line.state === "changed")).toEqual([]);
      expect(conclusionOf(found.lines)).toBe("intact");
      expect(found.claims.filter((claim) => typeof claim.claimed === "number").length).toBeGreaterThan(50);
      expect([...found.files.keys()]).toEqual(["history.json"]);
    },
  );

  it("names a changed number of the trend, though sealed anew", async () => {
    const level = /("battery":"B-0417"[\s\S]*?"value":)(\d+\.\d+)/.exec(text)!;
    const other = text.replace(level[0], `${level[1]}${(Number(level[2]) * 1.01).toFixed(6)}`);
    const faults = await changed(resealed(other));
    expect(faults.map((line) => line.what)).toContain("result");
    expect(faults[0]!.detail).toMatch(/^batteries\[1\].*computed again/);
  });

  it("names a changed reading of the history, though its hash is the only thing left as it was", async () => {
    const other = text.replace(/\\"value\\": (0\.0\d+)/, (all, value: string) => all.replace(value, `${value}1`));
    expect(other).not.toBe(text);
    expect((await changed(resealed(other))).map((line) => line.what)).toContain("history.json");
  });

  it("names a changed word of the page", async () => {
    const other = text.replace('<h2 id="answer-h">Answer</h2>', '<h2 id="answer-h">All well</h2>');
    expect(other).not.toBe(text);
    const faults = await changed(resealed(other));
    expect(faults).toHaveLength(1);
    expect(faults[0]).toMatchObject({ what: "text and figures", detail: expect.stringContaining("All well") });
  });

  it("sees a single changed byte by the seal", async () => {
    const other = Uint8Array.from(page);
    other[20_000] = other[20_000]! ^ 1;
    expect((await changed(other)).map((line) => line.what)).toContain("seal");
  });
});
