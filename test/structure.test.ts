import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

const root = new URL("..", import.meta.url).pathname;

/** One idea that takes more room than most; parting it would part what must be read together. */
const LONGER: Readonly<Record<string, string>> = {
  "src/core/battery/battery-answer.ts": "all that a recording tells of the battery, in the order of the answer",
  "src/core/detection/marked-detection.ts": "one estimate, its two starts and their joint critical value",
  "src/core/detection/search.ts": "one search: scan, refine, take out, scan again",
  "src/core/detection/shape-refinement.ts": "one fit with all of its free parameters",
  "src/core/estimation/current-step.ts": "one edge from its readings to its uncertainty",
  "src/core/estimation/step-resistance.ts": "one resistance with its whole budget",
  "src/core/series/clock-alignment.ts": "one alignment with each reason to refuse it",
  "src/core/series/fine-offset.ts": "one likelihood over offset, rate and lags",
  "src/core/trend/trend.ts": "the judgement of one series, its types beside it",
  "src/history/store.ts": "one class: every method works in the same transaction",
  "src/importers/csv/log-finish.ts": "the steps from rows to series, in their order",
  "src/report/pdf.ts": "the order of a record's parts on paper",
};

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

  it("no source file is longer than 300 lines, or 400 where a reason is given", () => {
    const long = sourceFiles("src").flatMap((file) => {
      const count = readFileSync(join(root, file), "utf8").split("\n").length - 1;
      return count > (LONGER[file] === undefined ? 300 : 400) ? [`${file}: ${count}`] : [];
    });
    expect(long).toEqual([]);
    for (const file of Object.keys(LONGER)) expect(sourceFiles("src"), file).toContain(file);
  });
});
