/**
 * Writes the committed example report and the pictures of README: `npm run build && npx tsx samples/make-example.ts`.
 *
 * The pictures need a Chromium, whose path stands in `CHROMIUM`, poppler and ImageMagick.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { takePictures } from "./example-pictures.js";

const root = fileURLToPath(new URL("..", import.meta.url));
const folder = join(root, "reports", "example");
// Noon of the invented check, and of the day after the last flight, so that the same code makes the same files.
const CHECK_S = Date.UTC(2026, 2, 2, 12) / 1000;
const TREND_S = Date.UTC(2026, 6, 24, 12) / 1000;

function busdip(epochS: number, ...words: readonly string[]): void {
  execFileSync(process.execPath, [join("dist", "cli", "main.js"), ...words], {
    cwd: root,
    stdio: ["ignore", "inherit", "inherit"],
    env: { ...process.env, SOURCE_DATE_EPOCH: String(epochS) },
  });
}

const sample = (name: string) => join("samples", name);
const inputs = ["--profile", sample("ice-2.profile.yaml"), "--marks", sample("ice-2-ramp.marks.csv")];
busdip(CHECK_S, "analyze", sample("ice-2-ramp.csv"), ...inputs, "--out", folder);

const scratch = mkdtempSync(join(tmpdir(), "busdip-picture-"));
try {
  const store = join(scratch, "history.db");
  busdip(CHECK_S, "history", "import", sample(join("history", "ice-2-history.json")), "--store", store);
  busdip(TREND_S, "trend", "B-0417", "--store", store, "--out", scratch);
  await takePictures(folder, join(scratch, "trend.html"));
} finally {
  rmSync(scratch, { recursive: true, force: true });
}
