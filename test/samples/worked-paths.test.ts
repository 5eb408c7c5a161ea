import { readFileSync } from "node:fs";
import { expect, it } from "vitest";
import { ranAnew } from "../../samples/worked-paths.js";

const readme = readFileSync(new URL("../../README.md", import.meta.url), "utf8");

it("the worked paths of README.md show what the program prints", { timeout: 240_000 }, () => {
  expect(readme.match(/^\$ npx busdip /gm)!.length).toBeGreaterThanOrEqual(6);
  expect(ranAnew(readme)).toBe(readme);
});
