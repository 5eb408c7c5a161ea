import { execFileSync } from "node:child_process";
import { fileURLToPath } from "node:url";
import { shippedPackages } from "./licences.js";

interface Bill {
  readonly bomFormat: string;
  readonly components: readonly { readonly "bom-ref": string; readonly name: string; readonly version: string }[];
  readonly dependencies: readonly { readonly ref: string; readonly dependsOn: readonly string[] }[];
}

/**
 * The bill of materials of what busdip runs with, CycloneDX 1.5.
 *
 * npm's own `--omit dev` leaves out packages that a tool of the developers needs as well, such as yaml; so the whole bill
 * is taken and what is for development alone is struck out.
 */
export function billOfMaterials(): Bill {
  const words = ["sbom", "--sbom-format", "cyclonedx", "--package-lock-only", "--offline"];
  const text = execFileSync("npm", words, {
    cwd: fileURLToPath(new URL("../../", import.meta.url)),
    encoding: "utf8",
    maxBuffer: 1 << 26,
    stdio: ["ignore", "pipe", "ignore"],
  });
  const bill = JSON.parse(text) as Bill;
  const shipped = new Set(shippedPackages().map(({ name, version }) => `${name}@${version}`));
  const components = bill.components.filter((one) => shipped.has(one["bom-ref"]));
  const dependencies = bill.dependencies
    .filter(({ ref }) => shipped.has(ref) || ref.startsWith("busdip@"))
    .map(({ ref, dependsOn }) => ({ ref, dependsOn: dependsOn.filter((one) => shipped.has(one)) }));
  return { ...bill, components, dependencies };
}
