import { randomBytes, randomInt, timingSafeEqual } from "node:crypto";
import type { IncomingHttpHeaders, IncomingMessage } from "node:http";
import { hostname, networkInterfaces } from "node:os";

/** Wrong codes after which a new one is shown. */
const MOST_WRONG = 5;
/** Least time between two tries. */
const PAUSE_MS = 500;
const MOST_DEVICES = 50;
const COOKIE = "busdip-entry";

/** Why a request is turned away: the status and one sentence. */
export interface Refusal {
  readonly status: number;
  readonly sentence: string;
}

/**
 * Decides who may ask what.
 *
 * A page of another site can make a browser send requests here. It cannot set the Host, Origin and Sec-Fetch-Site
 * headers, so these are held against the addresses that this server really has; a name that was made to point here
 * (DNS rebinding) arrives with that name as its Host and is refused.
 */
export class PageGuard {
  port = 0;
  readonly #host: string;
  readonly #isOpen: boolean;
  readonly #showCode: (code: string) => void;
  readonly #entries = new Set<string>();
  #code = newCode();
  #wrong = 0;
  #lastTryMs = 0;

  constructor(host: string, isOpen: boolean, showCode: (code: string) => void) {
    this.#host = host;
    this.#isOpen = isOpen;
    this.#showCode = showCode;
  }

  /** The address to be opened in a browser. */
  address(): string {
    const isAny = this.#host === "0.0.0.0" || this.#host === "::";
    return `http://${inAddress(isAny ? (ownAddresses()[0] ?? "127.0.0.1") : this.#host)}:${this.port}/`;
  }

  showCode(): void {
    this.#showCode(this.#code);
  }

  /** Whether the request comes to one of this server's own addresses, and not from another site. */
  refusalOf({ method, headers, headersDistinct }: IncomingMessage, isApi: boolean): Refusal | null {
    const { host, origin } = headers;
    // The first of two would be looked at here, and the second perhaps by something between.
    if ((headersDistinct.host?.length ?? 0) > 1) return { status: 400, sentence: "A request names one host." };
    if (host === undefined || !this.#ownHosts().has(host.toLowerCase())) {
      return { status: 421, sentence: "This server does not go by that name." };
    }
    if (!isApi) return null;
    const site = headers["sec-fetch-site"];
    const fromElsewhere =
      (site !== undefined && site !== "same-origin" && site !== "none") ||
      (origin !== undefined && origin.toLowerCase() !== `http://${host.toLowerCase()}`);
    const unnamed = method !== "GET" && method !== "HEAD" && origin === undefined;
    return fromElsewhere || unnamed ? { status: 403, sentence: "Requests of other sites are refused." } : null;
  }

  /** Whether the code must be entered first. */
  isLocked(headers: IncomingHttpHeaders): boolean {
    if (!this.#isOpen) return false;
    const given = (headers.cookie ?? "").split(/;\s*/).find((pair) => pair.startsWith(`${COOKIE}=`));
    return given === undefined || !this.#entries.has(given.slice(COOKIE.length + 1));
  }

  /** Takes a code; each admits one device. The cookie to be set, or why not. */
  enter(code: string, nowMs: number = Date.now()): { readonly cookie: string } | Refusal {
    if (nowMs - this.#lastTryMs < PAUSE_MS) return { status: 429, sentence: "Wait a second and try again." };
    this.#lastTryMs = nowMs;
    if (!isSame(code, this.#code)) {
      this.#wrong += 1;
      if (this.#wrong >= MOST_WRONG) this.#renew();
      return { status: 403, sentence: "That is not the code shown in the terminal; look again." };
    }
    this.#renew();
    const entry = randomBytes(32).toString("base64url");
    this.#entries.add(entry);
    for (const oldest of this.#entries) {
      if (this.#entries.size <= MOST_DEVICES) break;
      this.#entries.delete(oldest);
    }
    return { cookie: `${COOKIE}=${entry}; Path=/; HttpOnly; SameSite=Strict` };
  }

  #renew(): void {
    this.#wrong = 0;
    this.#code = newCode();
    this.#showCode(this.#code);
  }

  #ownHosts(): ReadonlySet<string> {
    const names = ["localhost", "127.0.0.1", "::1", this.#host];
    if (this.#isOpen) names.push(...ownAddresses(), hostname(), `${hostname()}.local`);
    return new Set(names.map((name) => `${inAddress(name)}:${this.port}`.toLowerCase()));
  }
}

function newCode(): string {
  return String(randomInt(0, 100_000_000)).padStart(8, "0");
}

function isSame(given: string, code: string): boolean {
  const a = Buffer.from(given);
  const b = Buffer.from(code);
  return a.length === b.length && timingSafeEqual(a, b);
}

function ownAddresses(): string[] {
  return Object.values(networkInterfaces())
    .flatMap((ones) => ones ?? [])
    .filter(({ internal }) => !internal)
    .map(({ address }) => address.replace(/%.*$/, ""));
}

function inAddress(host: string): string {
  return host.includes(":") ? `[${host}]` : host;
}
