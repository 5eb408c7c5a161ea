import { homedir } from "node:os";
import { join } from "node:path";

/** Where a history lies: a file on this machine or a server. */
export type StoreLocation =
  | { readonly kind: "file"; readonly path: string }
  | { readonly kind: "server"; readonly url: string; readonly token?: string };

type Surroundings = Readonly<Record<string, string | undefined>>;

/**
 * The place named by `--store`, else by BUSDIP_STORE, else `history.db` in the user's own data folder.
 *
 * `libsql:`, `http:`, `https:`, `ws:` and `wss:` name a server, whose token stands in BUSDIP_STORE_TOKEN; `file:` and
 * everything else a file.
 * Source: XDG Base Directory Specification 0.8 for XDG_DATA_HOME.
 */
export function storeLocation(
  named: string | undefined,
  environment: Surroundings = process.env,
  platform: string = process.platform,
): StoreLocation {
  const name = named ?? (environment.BUSDIP_STORE || undefined);
  if (name === undefined)
    return { kind: "file", path: join(dataFolder(environment, platform), "busdip", "history.db") };
  if (/^(libsql|https?|wss?):\/\//i.test(name)) {
    const token = environment.BUSDIP_STORE_TOKEN;
    return { kind: "server", url: name, ...(token ? { token } : {}) };
  }
  return { kind: "file", path: name.replace(/^file:(\/\/(?=\/))?/i, "") };
}

/** The place as it is shown to people, without a password that an address may carry. */
export function placeName(location: StoreLocation): string {
  if (location.kind === "file") return location.path;
  return location.url.replace(/\/\/[^@/]*@/, "//").replace(/([?&]authToken=)[^&]*/i, "$1...");
}

function dataFolder(environment: Surroundings, platform: string): string {
  const home = environment.HOME ?? environment.USERPROFILE ?? homedir();
  if (platform === "win32") return environment.LOCALAPPDATA ?? join(home, "AppData", "Local");
  if (platform === "darwin") return join(home, "Library", "Application Support");
  const xdg = environment.XDG_DATA_HOME;
  // The specification wants relative paths ignored.
  return xdg?.startsWith("/") ? xdg : join(home, ".local", "share");
}
