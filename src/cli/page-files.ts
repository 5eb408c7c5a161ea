import { readdir, readFile } from "node:fs/promises";
import { extname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";
import { gzip } from "node:zlib";
import { InputError } from "../importers/input-error.js";

/** One file of the built page, ready to be sent. */
export interface PageFile {
  readonly type: string;
  readonly bytes: Uint8Array;
  /** Packed for browsers that can unpack, made when it is first asked for. */
  readonly packed: () => Promise<Uint8Array>;
  /** Its name changes with its content, so it may be kept for ever. */
  readonly lasting: boolean;
}

const TYPES: Readonly<Record<string, string>> = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".svg": "image/svg+xml",
  ".png": "image/png",
  ".csv": "text/csv; charset=utf-8",
  ".yaml": "application/yaml; charset=utf-8",
  ".webmanifest": "application/manifest+json",
  ".wasm": "application/wasm",
  ".mp4": "video/mp4",
};

/**
 * The built page by request path. Only what is in this map is ever sent, so no path leads anywhere else.
 *
 * @throws InputError where the page was not built
 */
export async function builtFiles(): Promise<ReadonlyMap<string, PageFile>> {
  const folder = fileURLToPath(new URL("../page/", import.meta.url));
  const names = await readdir(folder, { recursive: true, withFileTypes: true }).catch(() => []);
  const files = new Map<string, PageFile>();
  for (const entry of names) {
    if (!entry.isFile()) continue;
    const full = join(entry.parentPath, entry.name);
    const path = `/${full.slice(folder.length).replaceAll("\\", "/")}`;
    const bytes = await readFile(full);
    let packed: Promise<Uint8Array> | null = null;
    files.set(path, {
      type: TYPES[extname(path)] ?? "application/octet-stream",
      bytes,
      packed: () => {
        packed ??= promisify(gzip)(bytes);
        return packed;
      },
      lasting: path.startsWith("/assets/"),
    });
  }
  const index = files.get("/index.html");
  if (index === undefined) {
    throw new InputError({ file: folder, problem: "the page was not built", remedy: "run npm run build first" });
  }
  return files.set("/", index);
}
