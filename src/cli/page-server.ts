import { createServer, type IncomingMessage, type Server, type ServerResponse } from "node:http";
import { InputError } from "../importers/input-error.js";
import type { PageFile } from "./page-files.js";
import type { PageGuard } from "./page-guard.js";
import { type ApiAnswer, PageHistory } from "./page-history.js";

/** Results are some hundred kilobytes; nothing larger is ever sent here. */
const LARGEST_BODY_BYTES = 8_000_000;
/** Bodies that may be on their way at the same time. */
const MOST_BODIES = 8;
/** Answers that may be computed or sent at the same time. */
const MOST_AT_ONCE = 200;

const PAGE_POLICY =
  "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; media-src 'self' blob: mediastream:; connect-src 'self' blob:; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/** A report brings its own script; it runs apart from the page and can ask nothing. */
const REPORT_POLICY =
  "sandbox allow-scripts; default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

const COMMON_HEADERS = {
  "x-content-type-options": "nosniff",
  "referrer-policy": "no-referrer",
  "cross-origin-opener-policy": "same-origin",
  "cross-origin-resource-policy": "same-origin",
  "permissions-policy": "camera=(self), microphone=(self), geolocation=()",
} as const;

interface ServerParts {
  readonly files: ReadonlyMap<string, PageFile>;
  readonly guard: PageGuard;
  readonly store: string | undefined;
}

/** The server of the page: its files, and a small JSON API over the history. */
export function pageServer({ files, guard, store }: ServerParts): Server {
  const history = new PageHistory(store);
  let bodiesNow = 0;
  let now = 0;
  const takeBody = async (request: IncomingMessage): Promise<unknown> => {
    if (bodiesNow >= MOST_BODIES) throw new Refused(503, "Too much is being sent at once; try again in a moment.");
    bodiesNow += 1;
    try {
      return await jsonBody(request);
    } finally {
      bodiesNow -= 1;
    }
  };
  const answer = async (request: IncomingMessage): Promise<Reply> => {
    const method = request.method ?? "GET";
    const address = addressOf(request);
    const isApi = address.pathname.startsWith("/api/");
    const refusal = guard.refusalOf(request, isApi);
    if (refusal !== null) throw new Refused(refusal.status, refusal.sentence);
    if (!isApi) return fileReply(files, method, address.pathname, request);
    const wanted = address.pathname.slice("/api/".length);
    const locked = guard.isLocked(request.headers);
    if (wanted === "about") return apiReply({ json: history.about(locked) });
    if (wanted === "enter" && method === "POST") {
      const { code } = (await takeBody(request)) as { code?: unknown };
      const entry = guard.enter(typeof code === "string" ? code : "");
      if (!("cookie" in entry)) throw new Refused(entry.status, entry.sentence);
      return { ...apiReply({ json: { entered: true } }), headers: { "set-cookie": entry.cookie } };
    }
    if (locked) throw new Refused(401, "Enter the code that is shown in the terminal first.");
    if (method === "POST" && wanted === "recordings") return apiReply(history.add(await takeBody(request)));
    if (method !== "GET") throw new Refused(405, "This cannot be asked for in that way.");
    const found = await history.answer(wanted, address.searchParams.get("battery"));
    if (found === null) throw new Refused(404, "There is no such thing here.");
    return apiReply(found);
  };
  const server = createServer((request, response) => {
    if (now >= MOST_AT_ONCE) {
      send(response, refusedReply(new Refused(503, "Too many requests at once; try again in a moment.")));
      return;
    }
    now += 1;
    response.once("close", () => {
      now -= 1;
    });
    answer(request)
      .catch(refusedReply)
      .then((reply) => {
        // What was not read of a refused body is not waited for.
        const headers = request.complete ? {} : { connection: "close" };
        send(response, { ...reply, headers: { ...reply.headers, ...headers } }, request.method === "HEAD");
      });
  });
  server.headersTimeout = 10_000;
  server.requestTimeout = 30_000;
  server.keepAliveTimeout = 5_000;
  server.maxHeadersCount = 100;
  server.on("clientError", (_fault, socket) => {
    if (socket.writable) socket.end("HTTP/1.1 400 Bad Request\r\nConnection: close\r\n\r\n");
  });
  return server;
}

class Refused extends Error {
  constructor(
    readonly status: number,
    readonly sentence: string,
  ) {
    super(sentence);
  }
}

interface Reply {
  readonly status: number;
  readonly type: string;
  readonly policy: string;
  readonly body: Uint8Array | string;
  readonly headers?: Readonly<Record<string, string>>;
}

function send(response: ServerResponse, reply: Reply, headOnly = false): void {
  if (response.destroyed) return;
  response.writeHead(reply.status, {
    ...COMMON_HEADERS,
    "content-type": reply.type,
    "content-security-policy": reply.policy,
    "content-length": Buffer.byteLength(reply.body),
    "cache-control": "no-store",
    ...reply.headers,
  });
  response.end(headOnly ? undefined : reply.body);
}

function addressOf(request: IncomingMessage): URL {
  const target = request.url ?? "/";
  if (!target.startsWith("/") || target.startsWith("//")) throw new Refused(400, "That is no address of this server.");
  try {
    return new URL(target, "http://page");
  } catch {
    throw new Refused(400, "That is no address of this server.");
  }
}

async function fileReply(
  files: ReadonlyMap<string, PageFile>,
  method: string,
  path: string,
  request: IncomingMessage,
): Promise<Reply> {
  if (method !== "GET" && method !== "HEAD") throw new Refused(405, "Files can only be read.");
  const file = files.get(path);
  if (file === undefined) throw new Refused(404, "There is no such file.");
  const packs = /\bgzip\b/.test(String(request.headers["accept-encoding"] ?? ""));
  return {
    status: 200,
    type: file.type,
    policy: PAGE_POLICY,
    body: packs ? await file.packed() : file.bytes,
    headers: {
      "cache-control": file.lasting ? "public, max-age=31536000, immutable" : "no-cache",
      vary: "accept-encoding",
      ...(packs ? { "content-encoding": "gzip" } : {}),
    },
  };
}

function apiReply(answer: ApiAnswer): Reply {
  if ("html" in answer) {
    return { status: 200, type: "text/html; charset=utf-8", policy: REPORT_POLICY, body: answer.html };
  }
  return { status: 200, type: "application/json", policy: "default-src 'none'", body: JSON.stringify(answer.json) };
}

function refusedReply(fault: unknown): Reply {
  const [status, sentence] =
    fault instanceof Refused
      ? [fault.status, fault.sentence]
      : fault instanceof InputError
        ? [400, fault.message]
        : [500, "This is the program's own fault; its terminal says more."];
  if (status === 500) process.stderr.write(`busdip: ${fault instanceof Error ? fault.message : String(fault)}\n`);
  return { status, type: "application/json", policy: "default-src 'none'", body: JSON.stringify({ sentence }) };
}

/** The body of a request as JSON. @throws Refused where it is none, or too large; then the rest is not read. */
async function jsonBody(request: IncomingMessage): Promise<unknown> {
  const type = String(request.headers["content-type"] ?? "");
  if (!/^application\/json\s*(;|$)/i.test(type)) throw new Refused(415, "Only JSON is taken here.");
  const tooLarge = new Refused(413, `That is more than ${LARGEST_BODY_BYTES / 1e6} MB; a result is never that large.`);
  if (Number(request.headers["content-length"] ?? 0) > LARGEST_BODY_BYTES) throw tooLarge;
  const pieces: Buffer[] = [];
  let byteCount = 0;
  for await (const piece of request as AsyncIterable<Buffer>) {
    byteCount += piece.length;
    if (byteCount > LARGEST_BODY_BYTES) throw tooLarge;
    pieces.push(piece);
  }
  try {
    const found: unknown = JSON.parse(Buffer.concat(pieces).toString("utf8"));
    if (typeof found === "object" && found !== null && !Array.isArray(found)) return found;
  } catch {
    // Told below.
  }
  throw new Refused(400, "That is no JSON object.");
}
