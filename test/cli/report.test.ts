import { generateKeyPairSync, verify } from "node:crypto";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { maintenanceEntry } from "../../src/report/maintenance-entry.js";
import { folderWith, runBusdip } from "./run-busdip.js";
import { smallCheck, smallWords } from "./small-check.js";
import { analysis, context } from "./small-record.js";

const shop = generateKeyPairSync("ed25519");
const other = generateKeyPairSync("ed25519");
const pem = {
  "shop.pem": shop.privateKey.export({ type: "pkcs8", format: "pem" }) as string,
  "shop.pub.pem": shop.publicKey.export({ type: "spki", format: "pem" }) as string,
  "other.pub.pem": other.publicKey.export({ type: "spki", format: "pem" }) as string,
};
const form = "Work order ____\nAircraft {{aircraft}}\n{{verdicts}}\n";

let folder: ReturnType<typeof folderWith>;
const run = (...words: string[]) => runBusdip(words, { cwd: folder.path });
const bytes = (...path: string[]) => readFileSync(join(folder.path, ...path));
const text = (...path: string[]) => bytes(...path).toString("utf8");

beforeAll(() => {
  folder = folderWith({ ...smallCheck, ...pem, "form.txt": form });
  const { status, stderr } = run(...smallWords, "--out", "out", "--sign", "shop.pem", "--entry-template", "form.txt");
  if (status !== 0) throw new Error(stderr);
}, 60_000);
afterAll(() => folder.remove());

describe("busdip verify", () => {
  it.each(["report.html", "report.pdf", "result.json"])("finds %s intact and signed by the shop", (name) => {
    const { status, stdout, stderr } = run("verify", join("out", name), "--key", "shop.pub.pem");
    expect(stderr).toBe("");
    expect(stdout).toContain("Intact: every number was computed again from the readings and holds.");
    expect(stdout).toMatch(/holds {8}signature/);
    expect(status).toBe(0);
  });

  it("the signature is plain Ed25519 over the bytes of the file", () => {
    const file = JSON.parse(text("out", "report.pdf.sig"));
    const signature = Buffer.from(file.signature, "base64");
    expect(verify(null, bytes("out", "report.pdf"), shop.publicKey, signature)).toBe(true);
    expect(file.note).toContain("no person's signature");
  });

  it("names a signature that another key should have made, and exits with 1", () => {
    const { status, stdout } = run("verify", join("out", "report.pdf"), "--key", "other.pub.pem");
    expect(stdout).toMatch(/changed {6}signature +signed with the key [0-9a-f-]+, which is not the given one/);
    expect(status).toBe(1);
  });

  it("names a changed digit of a result and exits with 1", () => {
    const changed = text("out", "result.json").replace(/"depth_V": 0\.1/, '"depth_V": 0.2');
    writeFileSync(join(folder.path, "changed.json"), changed);
    const { status, stdout } = run("verify", "changed.json", "--recording", join("out", "recording.csv"));
    expect(stdout).toContain("changed      seal");
    expect(stdout).toMatch(/changed {6}result +dips\[1\]\.depth_V is 0\.2\d+, computed again 0\.1\d+/);
    expect(status).toBe(1);
  });

  it("takes the log itself for the recording and names another one", () => {
    const foreign = smallCheck["log.csv"].replaceAll(",", ";").replaceAll(".", ",");
    writeFileSync(join(folder.path, "foreign.csv"), foreign);
    run(...smallWords.map((word) => (word === "log.csv" ? "foreign.csv" : word)), "--out", "foreign");
    writeFileSync(join(folder.path, "lone.json"), bytes("foreign", "result.json"));
    const held = run("verify", "lone.json", "--recording", "foreign.csv");
    expect(held.stdout).toContain("foreign.csv, the log that the result names");
    expect(held.status).toBe(0);
    const changed = foreign.replace(/(\n20;\d+,)\d/, "$19");
    expect(changed).not.toBe(foreign);
    writeFileSync(join(folder.path, "another.csv"), changed);
    const { status, stdout } = run("verify", "lone.json", "--recording", "another.csv");
    expect(stdout).toContain("not the log that the result was computed from");
    expect(status).toBe(1);
  });

  it("--extract writes what the record carries, byte for byte", () => {
    run("verify", join("out", "report.pdf"), "--extract", "taken");
    expect(readdirSync(join(folder.path, "taken")).sort()).toEqual([
      "marks.csv",
      "profile.yaml",
      "recording.csv",
      "result.json",
    ]);
    for (const [taken, original] of [
      ["recording.csv", bytes("out", "recording.csv")],
      ["profile.yaml", bytes("bus.yaml")],
      ["marks.csv", bytes("marks.csv")],
      ["result.json", bytes("out", "result.json")],
    ] as const) {
      expect(bytes("taken", taken).equals(original), taken).toBe(true);
    }
  });

  it("--json prints the checks and every number and nothing else", () => {
    const found = JSON.parse(run("verify", join("out", "report.html"), "--json").stdout);
    expect(found.conclusion).toBe("intact");
    expect(found.numbers.length).toBeGreaterThan(50);
  });
});

describe("busdip report", () => {
  it("writes the same page and the same PDF again, from the result or from each other", () => {
    for (const [from, format] of [
      ["result.json", "html"],
      ["result.json", "pdf"],
      ["report.html", "pdf"],
      ["report.pdf", "html"],
    ] as const) {
      expect(run("report", join("out", from), "--format", format, "--out", "again").stderr).toBe("");
      expect(bytes("again", `report.${format}`).equals(bytes("out", `report.${format}`)), `${from} ${format}`).toBe(
        true,
      );
    }
  });

  it("writes figures as pictures and everything as text", () => {
    for (const format of ["svg", "png", "txt"]) {
      expect(run("report", join("out", "report.html"), "--format", format, "--out", "forms").status).toBe(0);
    }
    expect(text("forms", "voltage-trace.svg")).toMatch(/^<svg /);
    // Signature and header of a PNG file: PNG specification (ISO/IEC 15948), 5.2 and 11.2.2; width in bytes 16 to 19.
    const png = bytes("forms", "voltage-trace.png");
    expect(png.subarray(0, 8).toString("hex")).toBe("89504e470d0a1a0a");
    expect(png.readUInt32BE(16)).toBe(2 * 736);
    expect(text("forms", "report.txt")).toContain("Heated probe");
  });

  it("refuses a record that does not hold", () => {
    writeFileSync(join(folder.path, "bad.html"), text("out", "report.html").replace("responded", "RESPONDED"));
    const { status, stderr } = run("report", "bad.html", "--format", "pdf", "--out", "bad");
    expect(stderr).toMatch(/^busdip: bad\.html: the record does not hold \([^\n]*\); see busdip verify[^\n]*\n$/);
    expect(status).toBe(2);
  });
});

describe("the draft entry", () => {
  it("fills the form among the samples, every field of it known", () => {
    const form = readFileSync(new URL("../../samples/entry-form.txt", import.meta.url), "utf8");
    const draft = maintenanceEntry(analysis, context, form);
    expect(draft.ok && draft.text).toMatch(/^- Heated probe: responded; depth .* \(95 %\)/m);
    expect(draft.ok && draft.text).not.toMatch(/[{}]/);
    expect(draft.ok && draft.text).toMatch(/signs for nobody/);
  });

  it("follows the shop's own form, in the file and in the reports", () => {
    expect(text("out", "entry.txt")).toMatch(/^Work order ____\nAircraft _+\n- Heated probe: responded; depth /);
    expect(text("out", "entry.txt")).toContain("signs for nobody");
    expect(text("out", "report.html")).toContain("Work order ____");
  });

  it("has the elements of 14 CFR 43.9(a), people's fields blank, and claims nothing reserved", () => {
    run(...smallWords, "--out", "usual");
    const entry = text("usual", "entry.txt");
    // 14 CFR 43.9(a)(1) description, (2) date, (3) name, (4) signature, certificate number, kind of certificate.
    for (const field of ["Date of completion of the work", "Signature", "Certificate number", "Kind of certificate"]) {
      expect(entry).toMatch(new RegExp(`${field}: _{10,}`));
    }
    expect(entry).toMatch(/Person who performed the work, if other than the person who signs: _{10,}/);
    expect(entry).toMatch(/Description of the work, or reference to data acceptable to the Administrator\nLoads were/);
    for (const name of ["entry.txt", "report.html"]) {
      const said = text("usual", name).replace(/<script>[\s\S]*?<\/script>/g, "");
      expect(said).not.toMatch(/airworthy|return(ed)? to service/i);
    }
  });

  it.each([
    ["This aircraft is airworthy.", "line 1: the form says 'airworthy', which only the licensed person may state"],
    ["ok\n{{mechanic}}", "line 2: there is no field {{mechanic}}"],
  ])("refuses the form %j", (template, sentence) => {
    writeFileSync(join(folder.path, "bad.txt"), template);
    const { status, stderr } = run(...smallWords, "--out", "never", "--entry-template", "bad.txt");
    expect(stderr).toContain(`busdip: bad.txt, ${sentence}`);
    expect(status).toBe(2);
    expect(readdirSync(folder.path)).not.toContain("never");
  });

  it("is never written over an input of the same name", () => {
    writeFileSync(join(folder.path, "recording.csv"), smallCheck["log.csv"]);
    const { status, stderr } = run("analyze", "recording.csv", "--out", ".");
    expect(stderr).toBe(
      "busdip: recording.csv: the report would be written over this input; give another folder after --out\n",
    );
    expect(status).toBe(2);
    expect(text("recording.csv")).toBe(smallCheck["log.csv"]);
  });

  it("refuses a signing key that is none", () => {
    const { status, stderr } = run(...smallWords, "--out", "never", "--sign", "bus.yaml");
    expect(stderr).toContain("busdip: bus.yaml: this is not an Ed25519 private key in PEM without a passphrase");
    expect(status).toBe(2);
  });
});
