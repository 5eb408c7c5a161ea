import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

const root = new URL("..", import.meta.url).pathname;

function sourceFiles(folder: string): string[] {
  return readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".ts"))
    .map((name) => join(folder, name));
}

describe("structure", () => {
  it("src/core uses no hidden randomness", () => {
    const users = sourceFiles("src/core").filter((file) =>
      readFileSync(join(root, file), "utf8").includes("Math.random"),
    );
    expect(users).toEqual([]);
  });

  it("no source file is longer than 400 lines", () => {
    const long = sourceFiles("src").filter((file) => readFileSync(join(root, file), "utf8").split("\n").length > 400);
    expect(long).toEqual([]);
  });
});
