import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { html, means, pdf, record } from "../cli/small-record.js";

/** Changes one random bit of a page, a PDF and a result many times, and counts what the full check says of each. */
const CHANGES = Number(process.argv[2] ?? 1000);
const files = [
  ["report.html", html(record())],
  ["report.pdf", await pdf(record())],
  ["result.json", new TextEncoder().encode(record().resultText)],
] as const;
const counts = new Map<string, number>();
let state = 20260302;
/** Linear congruential steps; high bits only, since the low ones repeat soon. */
const random = () => {
  state = (state * 1103515245 + 12345) % 2147483648;
  return state >>> 7;
};
for (let i = 0; i < CHANGES; i++) {
  const [name, bytes] = files[i % files.length]!;
  const changed = Uint8Array.from(bytes);
  changed[random() % bytes.length]! ^= 1 << (random() % 8);
  const said = await checkRecord(name, changed, means).then(
    (found) => conclusionOf(found.lines),
    (error: Error) => (error.name === "InputError" ? "refused" : `failed: ${error.message}`),
  );
  const key = `${name} ${said}`;
  counts.set(key, (counts.get(key) ?? 0) + 1);
}
for (const [key, count] of [...counts].sort()) console.log(`${key}: ${count}`);
process.exitCode = [...counts.keys()].some((key) => /intact|failed/.test(key)) ? 1 : 0;
