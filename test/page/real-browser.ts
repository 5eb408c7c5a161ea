import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { type BrowserContext, type BrowserContextOptions, chromium } from "playwright-core";

const INSTALLED = "/usr/bin/chromium";

/** Nothing of the browser's own may go out to a network. */
const FLAGS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

export const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true } as const;
export const DESK = { viewport: { width: 1280, height: 800 } } as const;

/** A real browser for the whole suite: the machine's own, else the one among the development packages. */
export async function startBrowser(moreFlags: readonly string[] = []): Promise<{
  newContext(options: BrowserContextOptions): Promise<BrowserContext>;
  close(): Promise<void>;
}> {
  const { path, libraries } = await program();
  const env = { ...process.env, ...libraries } as Record<string, string>;
  const browser = await chromium.launch({ executablePath: path, args: [...FLAGS, ...moreFlags], env });
  return { newContext: (options) => browser.newContext(options), close: () => browser.close() };
}

interface Program {
  readonly path: string;
  /** Where it finds the libraries and fonts that came with it. */
  readonly libraries: Readonly<Record<string, string>>;
}

async function program(): Promise<Program> {
  const wish = process.env.BUSDIP_TEST_BROWSER;
  if (wish !== "packaged" && existsSync(INSTALLED)) return { path: INSTALLED, libraries: {} };
  return unpacked();
}

/**
 * The packaged browser with the libraries that a bare machine lacks, unpacked once into a folder of the packages.
 *
 * The package decides by its surroundings what to unpack, and where: both are told it for the time of unpacking only.
 */
async function unpacked(): Promise<Program> {
  const folder = fileURLToPath(new URL("../../node_modules/.cache/busdip-browser", import.meta.url));
  const finished = {
    path: join(folder, "chromium"),
    libraries: { LD_LIBRARY_PATH: join(folder, "al2023", "lib"), FONTCONFIG_PATH: join(folder, "fonts") },
  };
  if (existsSync(join(folder, "complete"))) return finished;
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder, { recursive: true });
  const before = { ...process.env };
  Object.assign(process.env, { TMPDIR: folder, AWS_EXECUTION_ENV: "AWS_Lambda_nodejs20.x" });
  try {
    const { default: packaged } = await import("@sparticuz/chromium");
    await packaged.executablePath();
  } finally {
    for (const name of ["TMPDIR", "AWS_EXECUTION_ENV", "LD_LIBRARY_PATH", "FONTCONFIG_PATH", "HOME"]) {
      if (before[name] === undefined) delete process.env[name];
      else process.env[name] = before[name];
    }
  }
  // The package's own file names folders of other machines; without one font every text is no pixel high.
  writeFileSync(
    join(folder, "fonts", "fonts.conf"),
    `<?xml version="1.0"?>\n<!DOCTYPE fontconfig SYSTEM "fonts.dtd">\n<fontconfig>\n<dir>${join(folder, "fonts")}</dir>\n<cachedir>${join(folder, "font-cache")}</cachedir>\n</fontconfig>\n`,
  );
  writeFileSync(join(folder, "complete"), "");
  return finished;
}

/** An empty folder for one test. */
export function emptyFolder(): { readonly path: string; remove(): void } {
  const path = mkdtempSync(join(tmpdir(), "busdip-page-"));
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) };
}
