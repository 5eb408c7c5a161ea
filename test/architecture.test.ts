import { readdirSync, readFileSync } from "node:fs";
import { builtinModules } from "node:module";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

const root = new URL("..", import.meta.url).pathname;
const FOLDERS = ["core", "importers", "history", "report", "page", "cli"] as const;

interface Rule {
  readonly name: string;
  readonly to: { readonly pathNot?: readonly string[] };
}
const { default: rules } = (await import(`${root}.dependency-cruiser.mjs`)) as {
  default: { readonly forbidden: readonly Rule[] };
};

/** The rows of the table in DEVELOPERS.md: what each folder may import of ours, and which packages. */
const table = readFileSync(join(root, "DEVELOPERS.md"), "utf8").split("| folder | holds | may import | packages |")[1]!;
const drawn = new Map(
  [...table.matchAll(/^\| `src\/(\w+)` \| [^|]* \| ([^|]*) \| ([^|]*) \|$/gm)].map(
    ([, folder, ours, packages]) => [folder!, { ours: codeWords(ours!), packages: codeWords(packages!) }] as const,
  ),
);

function codeWords(cell: string): string[] {
  return [...cell.matchAll(/`([^`]+)`/g)].map(([, word]) => word!).sort();
}

/** What the rules let a folder import of ours, in the words of the table. */
function allowedByRules(folder: string): string[] {
  const rule = rules.forbidden.find(({ name }) => name === `${folder}-imports-only`);
  const others = (rule?.to.pathNot ?? []).filter((path) => path !== `^src/${folder}/`);
  return others.map((path) => path.replace("^src/", "").replaceAll("\\", "").replace(/[$/]$/, "")).sort();
}

function filesOf(folder: string): string[] {
  return readdirSync(join(root, "src", folder), { recursive: true, encoding: "utf8" }).filter((name) =>
    /\.tsx?$/.test(name),
  );
}

/** Packages that the files of a folder import. */
function packagesOf(folder: string): string[] {
  const found = new Set<string>();
  for (const name of filesOf(folder)) {
    const text = readFileSync(join(root, "src", folder, name), "utf8");
    for (const [, from] of text.matchAll(/^(?:import|export) [^;]*?from "([^".][^"]*)"|import\("([^".][^"]*)"\)/gm)) {
      if (from === undefined || from.startsWith("node:") || builtinModules.includes(from)) continue;
      found.add(
        from
          .split("/")
          .slice(0, from.startsWith("@") ? 2 : 1)
          .join("/"),
      );
    }
  }
  return [...found].sort();
}

describe("the layout in DEVELOPERS.md", () => {
  it("has a row for each folder of src", () => {
    const there = readdirSync(join(root, "src"), { withFileTypes: true }).filter((entry) => entry.isDirectory());
    expect([...drawn.keys()].sort()).toEqual(there.map(({ name }) => name).sort());
  });

  it.each(FOLDERS)("says of %s what npm run rules enforces", (folder) => {
    expect(drawn.get(folder)?.ours).toEqual(allowedByRules(folder));
  });

  it.each(FOLDERS)("names the packages that %s imports", (folder) => {
    expect(drawn.get(folder)?.packages).toEqual(packagesOf(folder));
  });

  it("is also kept by what the rules forbid: core is pure, nothing goes round", () => {
    const names = rules.forbidden.map(({ name }) => name);
    expect(names).toEqual(expect.arrayContaining(["core-is-pure", "no-cycles"]));
  });
});
