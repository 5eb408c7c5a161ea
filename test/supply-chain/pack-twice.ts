import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

/** `npm run pack:twice`: packs two clones of the committed state that lie in different folders; are both the same bytes? */
const root = fileURLToPath(new URL("../../", import.meta.url));
const folder = mkdtempSync(join(tmpdir(), "busdip-pack-"));
const sums: string[] = [];
try {
  const clones = ["one", "another/deeper"].map((name) => join(folder, name));
  // Both at once, so that a commit made meanwhile is in neither.
  for (const clone of clones) {
    mkdirSync(clone, { recursive: true });
    execFileSync("git", ["clone", "--quiet", root, clone]);
  }
  for (const clone of clones) {
    symlinkSync(join(root, "node_modules"), join(clone, "node_modules"));
    execFileSync("npm", ["pack", "--silent", "--foreground-scripts=false", "--ignore-scripts=false"], {
      cwd: clone,
      stdio: ["ignore", "ignore", "inherit"],
    });
    const [tarball] = readdirSync(clone).filter((file) => file.endsWith(".tgz"));
    const sum = createHash("sha256")
      .update(readFileSync(join(clone, tarball!)))
      .digest("hex");
    console.log(`${sum}  ${tarball} of ${clone}`);
    sums.push(sum);
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
const same = sums[0] === sums[1];
console.log(same ? "Both packages are the same, byte for byte." : "The packages differ.");
process.exitCode = same ? 0 : 1;
