/** Keeps the page's own files on the device, so that it opens with no network after the first visit. */

interface WorkerEvent extends Event {
  waitUntil(work: Promise<unknown>): void;
}

interface FetchEvent extends WorkerEvent {
  readonly request: Request;
  respondWith(answer: Promise<Response>): void;
}

interface WorkerScope {
  addEventListener(kind: "install" | "activate", listener: (event: WorkerEvent) => void): void;
  addEventListener(kind: "fetch", listener: (event: FetchEvent) => void): void;
  skipWaiting(): Promise<void>;
  readonly clients: { claim(): Promise<void> };
  readonly registration: { readonly scope: string };
}

const worker = self as unknown as WorkerScope;

/** Filled in by the build; its content changes with every build, and with it this file. */
const FILES = "__OFFLINE_FILES__";
const KEPT = `busdip-page-${fingerprint(FILES)}`;

function fingerprint(text: string): string {
  let sum = 0;
  for (const sign of text) sum = (Math.imul(sum, 31) + sign.charCodeAt(0)) | 0;
  return (sum >>> 0).toString(16);
}

async function keepAll(): Promise<void> {
  const kept = await caches.open(KEPT);
  await kept.addAll((JSON.parse(FILES) as string[]).map((name) => new Request(name, { cache: "no-cache" })));
  await worker.skipWaiting();
}

async function forgetOthers(): Promise<void> {
  for (const name of await caches.keys()) {
    if (name.startsWith("busdip-page-") && name !== KEPT) await caches.delete(name);
  }
  await worker.clients.claim();
}

async function answer(request: Request): Promise<Response> {
  const kept = await caches.open(KEPT);
  const found =
    request.mode === "navigate"
      ? await kept.match("./", { ignoreSearch: true })
      : await kept.match(request, { ignoreSearch: true });
  return found ?? fetch(request);
}

worker.addEventListener("install", (event) => event.waitUntil(keepAll()));
worker.addEventListener("activate", (event) => event.waitUntil(forgetOthers()));
worker.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  const inScope = request.url.startsWith(worker.registration.scope);
  if (request.method !== "GET" || !inScope || address.pathname.includes("/api/")) return;
  event.respondWith(answer(request));
});

export type {};
