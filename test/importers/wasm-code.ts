import { readFileSync, writeFileSync } from "node:fs";
import makeTools from "wabt";

/** The parts that are written as WebAssembly text, each with the constant that holds it assembled. */
const PROGRAMS = [
  { path: "csv/plain-rows", name: "PLAIN_ROWS_CODE" },
  { path: "video/pixel-sums", name: "PIXEL_SUMS_CODE" },
] as const;

const source = (path: string) => new URL(`../../src/importers/${path}`, import.meta.url);

/** A `.wat` file under `src/importers` as WebAssembly, in base64. */
export async function assembled(path: (typeof PROGRAMS)[number]["path"]): Promise<string> {
  const tools = await makeTools();
  const parsed = tools.parseWat(`${path}.wat`, readFileSync(source(`${path}.wat`), "utf8"), { simd: true });
  parsed.resolveNames();
  parsed.validate();
  return Buffer.from(parsed.toBinary({}).buffer).toString("base64");
}

if (process.argv[1] === import.meta.filename) {
  for (const { path, name } of PROGRAMS) {
    const lines = (await assembled(path)).match(/.{1,112}/g)!;
    writeFileSync(
      source(`${path}-code.ts`),
      `/** \`${path.split("/")[1]}.wat\` assembled by \`npm run make:wasm\`; a test holds it equal to its source. */
export const ${name} =
${lines.map((line) => `  "${line}"`).join(" +\n")};
`,
    );
  }
}
