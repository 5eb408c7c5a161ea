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

  it("src/core leaves no digit to the engine", () => {
    const engineDependent =
      /Math\.(?!abs|ceil|floor|imul|max|min|PI|LN2|LN10|SQRT2|SQRT1_2|round|sign|sqrt|trunc)\w+|\*\*/;
    const users = sourceFiles("src/core").filter((file) => {
      const code = readFileSync(join(root, file), "utf8").replaceAll(/\/\*[\s\S]*?\*\/|\/\/.*/g, "");
      return engineDependent.test(code);
    });
    expect(users).toEqual([]);
  });

  it("no source file is longer than 400 lines", () => {
    const long = sourceFiles("src").filter((file) => readFileSync(join(root, file), "utf8").split("\n").length > 400);
    expect(long).toEqual([]);
  });
});
