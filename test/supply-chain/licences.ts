import { existsSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

const root = new URL("../../", import.meta.url);

/** A package that busdip needs to run, or may use. */
export interface ShippedPackage {
  readonly path: string;
  readonly name: string;
  readonly version: string;
  /** As the package states it, SPDX; null where it states none. */
  readonly licence: string | null;
  /** Whether busdip runs without it. */
  readonly optional: boolean;
  readonly hasInstallScript: boolean;
}

/**
 * Licences under which a program with the MIT licence may use a package unchanged: permissive ones, a font's, and MPL 2.0,
 * whose copyleft ends at its own files. Names from https://spdx.org/licenses.
 */
export const COMPATIBLE: ReadonlySet<string> = new Set([
  ...["MIT", "ISC", "0BSD", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "BlueOak-1.0.0", "Unlicense", "CC0-1.0"],
  ...["OFL-1.1", "MPL-2.0"],
]);

/** Packages that state no licence in package.json, with what the LICENSE file beside it holds. */
export const READ_BY_HAND: Readonly<Record<string, { readonly licence: string; readonly words: string }>> = {
  "png-js": { licence: "MIT", words: "MIT License" },
  "@shinyoshiaki/jspack": { licence: "BSD-3-Clause", words: "Redistribution and use in source and binary forms" },
};

interface LockEntry {
  readonly version: string;
  readonly license?: string;
  readonly dev?: boolean;
  readonly optional?: boolean;
  readonly devOptional?: boolean;
  readonly hasInstallScript?: boolean;
}

/** Every package of package-lock.json that is not for development alone. */
export function shippedPackages(): ShippedPackage[] {
  const lock = JSON.parse(readFileSync(new URL("package-lock.json", root), "utf8")) as {
    packages: Record<string, LockEntry>;
  };
  return Object.entries(lock.packages).flatMap(([path, entry]) =>
    path === "" || entry.dev === true
      ? []
      : [
          {
            path,
            name: path.slice(path.lastIndexOf("node_modules/") + "node_modules/".length),
            version: entry.version,
            licence: entry.license ?? null,
            optional: entry.optional === true || entry.devOptional === true,
            hasInstallScript: entry.hasInstallScript === true,
          },
        ],
  );
}

/** The licence of a package, by its own words or read by hand; null where neither tells. */
export function licenceOf(one: ShippedPackage): string | null {
  return one.licence ?? READ_BY_HAND[one.name]?.licence ?? null;
}

/** The text of the licence file beside an installed package; null where the package is not installed or has none. */
export function licenceText(one: ShippedPackage): string | null {
  for (const name of ["LICENSE", "LICENSE.md", "LICENSE.txt", "LICENCE", "license"]) {
    const path = fileURLToPath(new URL(`${one.path}/${name}`, root));
    if (existsSync(path)) return readFileSync(path, "utf8");
  }
  return null;
}
