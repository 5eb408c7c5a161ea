/**
 * Writes the committed example report and its picture: `npm run build && npx tsx samples/make-example.ts`.
 *
 * The picture needs a Chromium; its path stands in `CHROMIUM`, else `chromium` is looked for.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));
const folder = join("reports", "example");
// Noon of the invented check, so that the same code makes the same files.
const noon = String(Date.UTC(2026, 2, 2, 12) / 1000);

const sample = (name: string) => join("samples", name);
const words = [join("dist", "cli", "main.js"), "analyze", sample("ice-2-ramp.csv")];
const inputs = ["--profile", sample("ice-2.profile.yaml"), "--marks", sample("ice-2-ramp.marks.csv")];
execFileSync(process.execPath, [...words, ...inputs, "--out", folder], {
  cwd: root,
  stdio: ["ignore", "inherit", "inherit"],
  env: { ...process.env, SOURCE_DATE_EPOCH: noon },
});

const profile = mkdtempSync(join(tmpdir(), "busdip-picture-"));
try {
  execFileSync(
    process.env.CHROMIUM ?? "chromium",
    [
      "--headless",
      "--no-sandbox",
      "--disable-gpu",
      "--hide-scrollbars",
      "--force-light-mode",
      `--user-data-dir=${profile}`,
      "--window-size=1100,1960",
      "--virtual-time-budget=8000",
      `--screenshot=${join(root, folder, "report.png")}`,
      `file://${join(root, folder, "report.html")}`,
    ],
    { stdio: "ignore", timeout: 120_000 },
  );
} finally {
  rmSync(profile, { recursive: true, force: true });
}
