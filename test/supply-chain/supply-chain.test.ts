import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { billOfMaterials } from "./bill-of-materials.js";
import { COMPATIBLE, licenceOf, licenceText, READ_BY_HAND, shippedPackages } from "./licences.js";

const root = new URL("../../", import.meta.url);
const packages = shippedPackages();

describe("the packages that busdip runs with", () => {
  it("are listed", () => {
    const names = new Set(packages.map(({ name }) => name));
    const stated = JSON.parse(readFileSync(new URL("package.json", root), "utf8"));
    for (const name of Object.keys({ ...stated.dependencies, ...stated.optionalDependencies })) {
      expect([...names]).toContain(name);
    }
  });

  it("have licences that the MIT licence gets on with", () => {
    const others = packages.filter((one) => !COMPATIBLE.has(licenceOf(one) ?? ""));
    expect(others.map((one) => `${one.name}: ${licenceOf(one)}`)).toEqual([]);
  });

  it.each(Object.entries(READ_BY_HAND))("%s states none, and its licence file is what was read", (name, { words }) => {
    const one = packages.find((each) => each.name === name);
    expect(one, `${name} is no longer used; take it out of the list`).toBeDefined();
    expect(one!.licence).toBeNull();
    const text = licenceText(one!);
    if (one!.optional && text === null) return;
    expect(text).toContain(words);
  });

  it("run no script while they are installed, and the only one that has a script is optional", () => {
    expect(readFileSync(new URL(".npmrc", root), "utf8")).toContain("ignore-scripts=true");
    const withScript = packages.filter((one) => one.hasInstallScript);
    expect(withScript.map((one) => [one.name, one.optional])).toEqual([["node-av", true]]);
  });

  it("all stand in the bill of materials that npm run sbom prints", () => {
    const bill = billOfMaterials();
    expect(bill.bomFormat).toBe("CycloneDX");
    const listed = new Set(bill.components.map(({ name, version }) => `${name}@${version}`));
    expect(packages.filter(({ name, version }) => !listed.has(`${name}@${version}`))).toEqual([]);
    expect(listed).not.toContain("vitest");
    expect(listed.size).toBe(new Set(packages.map(({ name, version }) => `${name}@${version}`)).size);
  });
});
