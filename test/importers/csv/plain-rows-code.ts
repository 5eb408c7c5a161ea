import { readFileSync, writeFileSync } from "node:fs";
import makeTools from "wabt";

const WAT = new URL("../../../src/importers/csv/plain-rows.wat", import.meta.url);
const CODE = new URL("../../../src/importers/csv/plain-rows-code.ts", import.meta.url);

/** `plain-rows.wat` as WebAssembly, in base64. */
export async function assembledPlainRows(): Promise<string> {
  const tools = await makeTools();
  const parsed = tools.parseWat("plain-rows.wat", readFileSync(WAT, "utf8"), { simd: true });
  return Buffer.from(parsed.toBinary({}).buffer).toString("base64");
}

if (process.argv[1] === import.meta.filename) {
  const lines = (await assembledPlainRows()).match(/.{1,112}/g)!;
  const text = lines.map((line) => `  "${line}"`).join(" +\n");
  writeFileSync(
    CODE,
    `/** \`plain-rows.wat\` assembled by \`npm run make:plain-rows\`; a test holds it equal to its source. */
export const PLAIN_ROWS_CODE =
${text};
`,
  );
}
