import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, expect } from "vitest";

/** Which functions of the core a test file ran, written down for the choice of tests. */
const ran = new Set<string>();
(globalThis as { whatRan?: Set<string> }).whatRan = ran;

afterAll(() => {
  const folder = process.env.BUSDIP_WHAT_RAN;
  if (folder === undefined) return;
  mkdirSync(folder, { recursive: true });
  const name = expect.getState().testPath!.replaceAll(/[^\w.-]/g, "_");
  writeFileSync(join(folder, `${name}.json`), JSON.stringify([...ran]));
});
