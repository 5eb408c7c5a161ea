import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { conclusionOf } from "../../src/cli/verify.js";
import type { CheckLine } from "../../src/cli/verify-line.js";
import { folderInsteadOfRecord } from "../../src/cli/verify-no-record.js";
import { compareResults, numberLines } from "../../src/cli/verify-numbers.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { analyze } from "../../src/core/index.js";
import { readSeal, sealed, withoutSeal } from "../../src/report/seal.js";
import { smallCheck, smallRecording } from "./small-check.js";
import { context, deeper, given, html, marks, means, pdf, profile, record } from "./small-record.js";

const check = (name: string, bytes: Uint8Array) => checkRecord(name, bytes, means);
const changed = (lines: readonly CheckLine[]) => lines.filter((line) => line.state === "changed");
const bytesOf = (text: string) => new TextEncoder().encode(text);
const textOf = (bytes: Uint8Array) => new TextDecoder().decode(bytes);
/** The page with one piece of text exchanged and sealed anew, as somebody would who knows how. */
function resealed(bytes: Uint8Array, from: string | RegExp, to: string): Uint8Array {
  const text = textOf(withoutSeal(bytes, "html"));
  const other = text.replace(from, to);
  expect(other).not.toBe(text);
  return sealed(bytesOf(other), "html");
}

describe("checkRecord()", () => {
  it("finds a page and a PDF intact, every number computed again", async () => {
    for (const [name, bytes] of [
      ["report.html", html(record())],
      ["report.pdf", await pdf(record())],
    ] as const) {
      const found = await check(name, bytes);
      expect(changed(found.lines), name).toEqual([]);
      expect(conclusionOf(found.lines)).toBe("intact");
      expect(found.claims.filter((claim) => typeof claim.claimed === "number").length).toBeGreaterThan(50);
      expect(found.madeBy).toEqual({ version: "0.1.0", madeAt: context.madeAt });
      expect([...found.files.keys()].sort()).toEqual(["marks.csv", "profile.yaml", "recording.csv", "result.json"]);
    }
  });

  it("computes again with the readings' own uncertainties and what their clock tells apart", async () => {
    const recording = {
      ...smallRecording,
      readingUncertaintiesV: smallRecording.timesS.map((_, i) => (i % 3 === 0 ? 0.03 : 0.01)),
      clockResolutionS: 0.1,
    };
    const own = analyze(recording, { marks, profile, ...given.options });
    const found = await check("report.html", html(record({ analysis: own, recording }), own));
    expect(changed(found.lines)).toEqual([]);
    expect(conclusionOf(found.lines)).toBe("intact");
    const text = found.files.get("recording.csv")!;
    expect(text.startsWith("time_s,voltage_V,u_V\n")).toBe(true);
    expect(found.again![0]!.record.result.inputs!.recording.clockResolution_s).toBe(0.1);
  });

  it("leaves a result without its readings open, and says what to give", async () => {
    const found = await check("result.json", bytesOf(record().resultText));
    expect(changed(found.lines)).toEqual([]);
    expect(conclusionOf(found.lines)).toBe("open");
    expect(found.lines).toContainEqual({
      what: "recording.csv",
      state: "not checked",
      detail: "not carried; give the recording with --recording",
    });
  });

  it("names the number of a changed result, though sealed anew", async () => {
    for (const bytes of [html(record({ analysis: deeper })), await pdf(record({ analysis: deeper }))]) {
      const found = changed((await check("report", bytes)).lines);
      expect(found.map((line) => line.what)).toContain("result");
      expect(found[0]!.detail).toMatch(/^loads\[probe\]\.depth_V is 0\.\d+, computed again 0\.\d+$/);
    }
  });

  it("names the text of a page that says something else than its data", async () => {
    const found = changed(
      (await check("r.html", resealed(html(record()), "<strong>responded", "<strong>no answer"))).lines,
    );
    expect(found).toHaveLength(1);
    expect(found[0]).toMatchObject({
      what: "text and figures",
      detail: expect.stringMatching(/says '[^<]*\bno answer\b[^<]*', by the data it must say '[^<]*\bresponded\b/),
    });
  });

  it("names the page of a PDF that says something else than its data", async () => {
    const found = changed((await check("r.pdf", await pdf(record(), deeper))).lines);
    expect(found.map((line) => line.detail)).toContain("page 1 is not what the data give");
  });

  it("sees another plotting library in a page", async () => {
    const found = changed(
      (await check("r.html", resealed(html(record()), "var Plotly = {};", "var Plotly = 1;"))).lines,
    );
    expect(found.map((line) => line.what)).toEqual(["plotting library"]);
  });

  it("finds numbers that other readings do not give, though every hash fits", async () => {
    const voltagesV = smallRecording.voltagesV.map((voltV, i) => (i === 120 ? voltV + 0.05 : voltV));
    const found = await check("r.html", html(record({ recording: { ...smallRecording, voltagesV } })));
    expect(found.lines).toContainEqual(expect.objectContaining({ what: "recording.csv", state: "holds" }));
    expect(changed(found.lines).map((line) => line.what)).toContain("result");
  });

  it("names readings, profile or marks that are not those of the result", async () => {
    const bytes = html(record());
    for (const [name, from, to] of [
      [
        "profile.yaml",
        '"data":"battery: { resistance_mOhm: { value: 12',
        '"data":"battery: { resistance_mOhm: { value: 13',
      ],
      ["marks.csv", /("marks\.csv":\{[^}]*?"data":"[^"]*?)probe/, "$1Probe"],
      ["recording.csv", '"encoding":"gzip+base64","data":"H4sI', '"encoding":"gzip+base64","data":"H4sJ'],
    ] as const) {
      const found = changed((await check("r.html", resealed(bytes, from, to))).lines);
      expect(found.map((line) => line.what)).toContain(name);
    }
  });

  it("finds numbers that a swapped profile does not give, though every hash fits", async () => {
    const profileText = smallCheck["bus.yaml"].replace("value: 12", "value: 24");
    const found = changed((await check("r.html", html(record({ given: { ...given, profileText } })))).lines);
    expect(found.map((line) => line.detail).join("\n")).toMatch(/current_A|resistance_mOhm/);
  });

  it("says which version made a record and leaves its text to that version", async () => {
    const found = await checkRecord("r.html", html(record()), { ...means, softwareVersion: "0.2.0" });
    expect(changed(found.lines)).toEqual([]);
    const open = found.lines.filter((line) => line.state === "not checked").map((line) => line.detail);
    expect(open).toEqual([
      "made by version 0.1.0, this is 0.2.0; only the former must give the same numbers",
      "only the program that made the record must draw the same",
    ]);
  });

  it("decides nothing where another program computes other numbers, and names them", async () => {
    for (const other of [{ softwareVersion: "0.2.0" }, { judgementSha256: "6".repeat(64) }]) {
      const found = await checkRecord("r.html", html(record({ analysis: deeper })), { ...means, ...other });
      expect(changed(found.lines)).toEqual([]);
      expect(conclusionOf(found.lines)).toBe("differs");
      const differing = found.lines.filter((line) => line.state === "differs");
      expect(differing[0]!.detail).toMatch(/^loads\[probe\]\.depth_V is 0\.\d+, computed again 0\.\d+$/);
    }
  });

  it("finds a record of other program files of its version intact where all numbers come out the same", async () => {
    const found = await checkRecord("r.html", html(record()), { ...means, judgementSha256: "6".repeat(64) });
    expect(conclusionOf(found.lines)).toBe("intact");
    expect(found.lines).toContainEqual({
      what: "software",
      state: "not checked",
      detail:
        "other program files of version 0.1.0 made it (judgement 55555555, here 66666666); only those must give the same numbers",
    });
  });

  it("leaves sentences that another program words otherwise to the one that made the record", () => {
    const claims = [
      { place: "loads[a].depth_V", claimed: 0.1, computed: 0.1, holds: true },
      { place: "loads[a].verdict", claimed: "responded", computed: "responded", holds: true },
      { place: "loads[a].reason", claimed: "old words", computed: "new words", holds: false },
    ];
    expect(numberLines(claims, false)).toEqual([
      { what: "result", state: "holds", detail: "1 numbers and 1 words computed again, all the same" },
      {
        what: "sentences",
        state: "not checked",
        detail: "1 worded otherwise by this program, such as loads[a].reason",
      },
    ]);
    expect(numberLines(claims, true).map((line) => line.state)).toEqual(["changed"]);
    const verdict = { place: "loads[a].verdict", claimed: "responded", computed: "undecided", holds: false };
    expect(numberLines([verdict], false).map((line) => line.state)).toEqual(["differs"]);
  });

  it("names what a report carries no more, though sealed anew", async () => {
    for (const [name, piece] of [
      ["recording.csv", /"recording\.csv":\{[^}]*\},?/],
      ["profile.yaml", /"profile\.yaml":\{[^}]*\},?/],
    ] as const) {
      const found = changed((await check("r.html", resealed(html(record()), piece, ""))).lines);
      expect(found).toContainEqual({ what: name, state: "changed", detail: "the report carries it no more" });
    }
  });

  it("takes the files out of a PDF whose streams another program has ended without a line of their own", async () => {
    const bytes = await pdf(record());
    const written = Buffer.from(bytes).toString("latin1").replaceAll("\nendstream", "endstream");
    const found = await check("r.pdf", Buffer.from(written, "latin1"));
    expect(found.lines).toContainEqual(expect.objectContaining({ what: "seal", state: "changed" }));
    for (const what of ["recording.csv", "profile.yaml", "marks.csv", "result"])
      expect(found.lines, what).toContainEqual(expect.objectContaining({ what, state: "holds" }));
  });

  it.each([
    ["an empty file", ""],
    ["another page", "<!DOCTYPE html><title>x</title>"],
    ["another PDF", "%PDF-1.7\n%%EOF"],
    ["plain words", "time_s,voltage_V\n0,24\n"],
  ])("refuses %s in one sentence", async (_, text) => {
    await expect(check("f", bytesOf(text))).rejects.toThrow(
      /^f: this (carries no seal|is [^\n]*not a record of busdip)[^\n]*$/,
    );
  });

  it.each([
    ["readings", "# ICE-2\ntime_s,voltage_V\n0,24\n", "a list of readings"],
    ["marks", "time_s,load,action\n1,a,on\n", "a list of switching marks"],
    ["a history", '{\n  "schema": "busdip-history/1",\n  "recordings": []\n}', "an exported history"],
    ["a trend", '{ "schema": "busdip-trend/1" }', "a trend without its seal"],
  ])("says what %s are that stand in a record's place, and which records lie beside them", async (_, text, name) => {
    const folder = mkdtempSync(join(tmpdir(), "busdip-"));
    writeFileSync(join(folder, "result.json"), "{}");
    writeFileSync(join(folder, "report.pdf"), "");
    const path = join(folder, "given");
    await expect(check(path, bytesOf(text))).rejects.toThrow(
      `${path}: this is ${name}, not a record of busdip, or its beginning was damaged; give report.html, ` +
        "report.pdf, result.json, trend.html or trend.pdf; beside it lie report.pdf and result.json",
    );
  });

  it("names the records in a folder that stands in a record's place", async () => {
    const folder = mkdtempSync(join(tmpdir(), "busdip-"));
    expect((await folderInsteadOfRecord(folder)).message).toMatch(/give the file with the record: report\.html,/);
    writeFileSync(join(folder, "report.html"), "");
    expect((await folderInsteadOfRecord(folder)).message).toContain(
      `give one of its records: ${join(folder, "report.html")}`,
    );
  });
});

describe("a seal", () => {
  it("is broken by each of 300 single-byte changes of a page, a PDF and a result", async () => {
    const files = [
      ["html", html(record())],
      ["pdf", await pdf(record())],
      ["json", bytesOf(record().resultText)],
    ] as const;
    // Linear congruential steps over the whole file, so that no place is chosen by hand.
    let step = 12345;
    const next = () => {
      step = (step * 1103515245 + 12345) % 2147483648;
      return step;
    };
    for (const [kind, bytes] of files) {
      expect(readSeal(bytes, kind)).toMatchObject({ found: readSeal(bytes, kind)!.due });
      for (let i = 0; i < 100; i++) {
        const other = Uint8Array.from(bytes);
        other[next() % bytes.length]! ^= 1 << (next() % 8);
        const seal = readSeal(other, kind);
        expect(seal !== null && seal.found === seal.due).toBe(false);
      }
    }
  });

  it("leads to 'changed' or a refusal, never to 'intact'", async () => {
    const bytes = await pdf(record());
    for (let i = 1; i <= 12; i++) {
      const other = Uint8Array.from(bytes);
      other[Math.floor((bytes.length * i) / 13)]! ^= 16;
      const conclusion = await check("r.pdf", other).then(
        (found) => conclusionOf(found.lines),
        () => "refused",
      );
      expect(["changed", "refused"]).toContain(conclusion);
    }
  });
});

describe("compareResults()", () => {
  it("lets the last places differ and nothing more", () => {
    const one = { dips: [{ depth_V: 0.1 }], loads: [{ id: "a", verdict: "responded" }] };
    const holds = (other: object) => compareResults(one, other).every((claim) => claim.holds);
    expect(holds({ ...one, dips: [{ depth_V: 0.1 + 1e-11 }] })).toBe(true);
    expect(holds({ ...one, dips: [{ depth_V: 0.1 + 1e-9 }] })).toBe(false);
    expect(holds({ ...one, dips: [] })).toBe(false);
    expect(compareResults(one, { ...one, loads: [] }).filter((claim) => !claim.holds)).toContainEqual({
      place: "loads[a].verdict",
      claimed: "responded",
      computed: undefined,
      holds: false,
    });
  });
});
