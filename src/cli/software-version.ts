import { createRequire } from "node:module";

/** The version in this package's own package.json. */
export function softwareVersion(): string {
  const packageJson = createRequire(import.meta.url)("../../package.json") as { version: string };
  return packageJson.version;
}
