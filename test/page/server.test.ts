import { readFileSync } from "node:fs";
import { request } from "node:http";
import { connect } from "node:net";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { runBusdip } from "../cli/run-busdip.js";
import { emptyFolder } from "./real-browser.js";
import { type ServedPage, servePage } from "./served-page.js";

const example = fileURLToPath(new URL("../../reports/example/result.json", import.meta.url));

let served: ServedPage;
const folder = emptyFolder();

beforeAll(async () => {
  served = await servePage("--store", join(folder.path, "history.db"));
});
afterAll(async () => {
  await served.stop();
  folder.remove();
});

interface Answered {
  readonly status: number;
  readonly headers: Readonly<Record<string, string | string[] | undefined>>;
  readonly text: string;
}

interface Asked {
  readonly method?: string;
  readonly headers?: Readonly<Record<string, string>>;
  readonly body?: string;
  readonly page?: ServedPage;
}

/** Asks with exactly these headers, which a browser's own ways of asking do not allow. */
function ask(path: string, { method = "GET", headers = {}, body, page = served }: Asked = {}): Promise<Answered> {
  return new Promise((done, fail) => {
    const asked = request({ host: "127.0.0.1", port: page.port, path, method, headers, agent: false }, (response) => {
      let text = "";
      response.setEncoding("utf8").on("data", (piece: string) => {
        text += piece;
      });
      response.on("end", () => done({ status: response.statusCode!, headers: response.headers, text }));
    });
    asked.on("error", fail);
    asked.end(body);
  });
}

const origin = () => served.address.replace(/\/$/, "");
const posted = (body: string, headers: Readonly<Record<string, string>> = {}): Promise<Answered> =>
  ask("/api/recordings", {
    method: "POST",
    body,
    headers: { "content-type": "application/json", origin: origin(), ...headers },
  });
const addition = (more: object = {}): string =>
  JSON.stringify({
    result: JSON.parse(readFileSync(example, "utf8")),
    date: "2026-03-02",
    battery: "B-0417",
    ...more,
  });
const batteries = async (): Promise<unknown[]> => JSON.parse((await ask("/api/batteries")).text).batteries;

describe("busdip page", () => {
  it("answers only to its own names, whatever the path (DNS rebinding)", async () => {
    for (const host of ["evil.example", `evil.example:${served.port}`, "127.0.0.1:1", "localhost"]) {
      for (const path of ["/", "/api/about", "/api/batteries"]) {
        const { status, text } = await ask(path, { headers: { host } });
        expect([400, 421], `${host} ${path}`).toContain(status);
        expect(text).not.toContain("history.db");
      }
    }
    // RFC 9112, 3.2: more than one Host is refused with 400.
    const twice = await new Promise<string>((done, fail) => {
      const socket = connect(served.port, "127.0.0.1", () => {
        socket.write(
          `GET /api/about HTTP/1.1\r\nHost: 127.0.0.1:${served.port}\r\nHost: evil.example\r\nConnection: close\r\n\r\n`,
        );
      });
      let text = "";
      socket.setEncoding("utf8").on("data", (piece: string) => {
        text += piece;
      });
      socket.on("close", () => done(text));
      socket.on("error", fail);
    });
    expect(twice).toMatch(/^HTTP\/1\.1 400 /);
    for (const host of [`localhost:${served.port}`, `127.0.0.1:${served.port}`, `LOCALHOST:${served.port}`]) {
      expect((await ask("/api/about", { headers: { host } })).status).toBe(200);
    }
  });

  it("refuses what another site makes a browser send", async () => {
    const body = addition();
    for (const headers of [
      { origin: "https://evil.example" },
      { origin: "null" },
      { origin: `http://localhost:${served.port}` },
      { origin: `https://127.0.0.1:${served.port}` },
      { "sec-fetch-site": "cross-site" },
      { "sec-fetch-site": "same-site" },
    ]) {
      expect((await posted(body, headers)).status, JSON.stringify(headers)).toBe(403);
    }
    const unnamed = await ask("/api/recordings", {
      method: "POST",
      body,
      headers: { "content-type": "application/json" },
    });
    expect(unnamed.status).toBe(403);
    expect((await ask("/api/batteries", { headers: { "sec-fetch-site": "cross-site" } })).status).toBe(403);
    expect((await posted(body, { "content-type": "text/plain" })).status).toBe(415);
    expect(
      (await ask("/api/recordings", { method: "OPTIONS", headers: { origin: "https://evil.example" } })).status,
    ).toBe(403);
    expect(await batteries()).toEqual([]);
  });

  it("sends nothing but the built page, by whatever way up", async () => {
    const ways = [
      "/../package.json",
      "/../../package.json",
      "/assets/../../cli/main.js",
      "/%2e%2e/%2e%2e/package.json",
      "/..%2f..%2fpackage.json",
      "/..%5c..%5cpackage.json",
      "/assets/%00",
      "/%",
      "//etc/passwd",
      "/etc/passwd",
      "/assets",
      "/api/../cli/main.js",
      "/api/report/../../../package.json",
      "/__proto__",
      "/constructor",
    ];
    for (const way of ways) {
      const { status, text } = await ask(way);
      expect([400, 404], way).toContain(status);
      expect(text, way).not.toContain('busdip page"');
      expect(text.length, way).toBeLessThan(200);
    }
  });

  it("refuses two gigabytes before they are sent, and an endless body at its limit", async () => {
    const claimed = await new Promise<string>((done, fail) => {
      const socket = connect(served.port, "127.0.0.1", () => {
        socket.write(
          `POST /api/recordings HTTP/1.1\r\nHost: 127.0.0.1:${served.port}\r\nOrigin: ${origin()}\r\nContent-Type: application/json\r\nContent-Length: 2147483648\r\n\r\n{`,
        );
      });
      let text = "";
      socket.setEncoding("utf8").on("data", (piece: string) => {
        text += piece;
      });
      socket.on("close", () => done(text));
      socket.on("error", fail);
    });
    expect(claimed).toMatch(/^HTTP\/1\.1 413 /);
    const sent = await new Promise<number>((done) => {
      let byteCount = 0;
      const socket = connect(served.port, "127.0.0.1", () => {
        socket.write(
          `POST /api/recordings HTTP/1.1\r\nHost: 127.0.0.1:${served.port}\r\nOrigin: ${origin()}\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n`,
        );
        const piece = `100000\r\n${" ".repeat(0x100000)}\r\n`;
        const push = (): void => {
          while (!socket.destroyed && byteCount < 200e6) {
            byteCount += piece.length;
            if (!socket.write(piece)) {
              socket.once("drain", push);
              return;
            }
          }
        };
        push();
      });
      socket.on("error", () => {});
      socket.on("data", () => socket.destroy());
      socket.on("close", () => done(byteCount));
    });
    expect(sent).toBeLessThan(60e6);
    expect((await ask("/api/about")).status).toBe(200);
  });

  it("refuses malformed JSON and results that are none, in one sentence, and adds nothing", async () => {
    const result = JSON.parse(readFileSync(example, "utf8"));
    const bodies = [
      "",
      "{",
      "[]",
      "null",
      '"text"',
      "{}",
      `${"[".repeat(100_000)}`,
      JSON.stringify({ result: {}, date: "2026-03-02" }),
      JSON.stringify({ result: { ...result, loads: "x" }, date: "2026-03-02", battery: "B" }),
      JSON.stringify({ result, date: "2026-02-30", battery: "B" }),
      JSON.stringify({ result, date: "yesterday", battery: "B" }),
      JSON.stringify({ result, battery: "B" }),
      JSON.stringify({ result, date: "2026-03-02", battery: "B", temperatureC: 1e9 }),
      JSON.stringify({ result, date: "2026-03-02", battery: "B", more: 1 }),
      JSON.stringify({ result, date: "2026-03-02", battery: "B\u0000\u001b[2J" }),
      JSON.stringify({ result, date: "2026-03-02", battery: "B", aircraft: "\ud800" }),
      `{"result":{"__proto__":{"polluted":1}},"date":"2026-03-02"}`,
    ];
    for (const body of bodies) {
      const { status, text } = await posted(body);
      expect(status, body.slice(0, 80)).toBe(400);
      const { sentence } = JSON.parse(text);
      expect(sentence, body.slice(0, 80)).toMatch(/\S/);
      expect(sentence).not.toMatch(/\n| at .*:\d+/);
    }
    expect(await batteries()).toEqual([]);
    const cold = await posted(JSON.stringify({ result, date: "2026-03-02", battery: "B", temperatureC: -300 }));
    expect(JSON.parse(cold.text).sentence).toBe(
      "the temperature of the battery is -300; give degrees Celsius from -60 to 90, or leave it out",
    );
  });

  it("says who may do what in its headers", async () => {
    const { headers } = await ask("/");
    const policy = String(headers["content-security-policy"]);
    expect(policy).toContain("default-src 'none'");
    expect(policy.match(/script-src [^;]*/)![0]).toBe("script-src 'self' 'wasm-unsafe-eval'");
    expect(policy).toContain("frame-ancestors 'none'");
    expect(headers["x-content-type-options"]).toBe("nosniff");
    expect(headers["access-control-allow-origin"]).toBeUndefined();
    const page = readFileSync(fileURLToPath(new URL("../../dist/page/index.html", import.meta.url)), "utf8");
    expect(page.match(/<script(?![^>]*\bsrc=)/g)).toBeNull();
  });

  it("adds a result once, lists it, and gives trend and report", async () => {
    const first = await posted(addition());
    expect([first.status, JSON.parse(first.text).outcome]).toEqual([200, "added"]);
    expect(JSON.parse((await posted(addition())).text).outcome).toBe("there");
    expect(await batteries()).toMatchObject([{ battery: "B-0417", flightCount: 1 }]);
    const { recordings } = JSON.parse((await ask("/api/recordings?battery=B-0417")).text);
    expect(recordings).toHaveLength(1);
    expect(JSON.parse((await ask("/api/trend?battery=B-0417")).text).schema).toMatch(/^busdip-trend/);
    const report = await ask("/api/report?battery=B-0417");
    expect(report.text).toMatch(/^<!DOCTYPE html>/);
    expect(String(report.headers["content-security-policy"])).toMatch(/^sandbox allow-scripts;/);
    expect((await ask("/api/report?battery=nobody")).status).toBe(400);
    expect((await ask("/api/passwords")).status).toBe(404);
    const listed = runBusdip(["history", "list", "--store", join(folder.path, "history.db")]);
    expect(listed.stdout).toContain("B-0417");
  });

  it("survives a thousand requests at once, each answered or put off", async () => {
    const answers = await Promise.all(
      Array.from({ length: 1000 }, (_, i) => ask(["/", "/api/batteries", "/api/about"][i % 3]!)),
    );
    expect(answers.filter(({ status }) => status !== 200 && status !== 503)).toEqual([]);
    expect(answers.filter(({ status }) => status === 200).length).toBeGreaterThan(100);
    expect((await ask("/api/batteries")).status).toBe(200);
  });

  it("opened to the network asks for a code that serves once", async () => {
    const open = await servePage("--host", "0.0.0.0", "--store", join(folder.path, "open.db"));
    try {
      const [, code] = await open.saying(/Code for the next device: (\d{8})/);
      const enter = (given: string) =>
        ask("/api/enter", {
          method: "POST",
          page: open,
          body: JSON.stringify({ code: given }),
          headers: { "content-type": "application/json", origin: `http://127.0.0.1:${open.port}` },
        });
      expect(JSON.parse((await ask("/api/about", { page: open })).text)).toMatchObject({ locked: true, place: "" });
      for (const path of ["/api/batteries", "/api/recordings", "/api/report", "/api/trend"]) {
        expect((await ask(path, { page: open })).status, path).toBe(401);
      }
      expect((await enter(code === "00000000" ? "11111111" : "00000000")).status).toBe(403);
      expect((await enter(code!)).status).toBe(429);
      await new Promise((done) => setTimeout(done, 550));
      const entered = await enter(code!);
      expect(entered.status).toBe(200);
      const cookie = String(entered.headers["set-cookie"]);
      expect(cookie).toMatch(/HttpOnly; SameSite=Strict/);
      const headers = { cookie: cookie.split(";")[0]! };
      expect((await ask("/api/batteries", { page: open, headers })).status).toBe(200);
      expect((await ask("/api/batteries", { page: open, headers: { cookie: "busdip-entry=x" } })).status).toBe(401);
      await new Promise((done) => setTimeout(done, 550));
      expect((await enter(code!)).status).toBe(403);
      expect((await ask("/", { page: open, headers: { host: `evil.example:${open.port}` } })).status).toBe(421);
    } finally {
      await open.stop();
    }
  });

  it("stops in order, and says in one sentence when a port is taken", async () => {
    const taken = runBusdip(["page", "--port", String(served.port), "--store", join(folder.path, "x.db")]);
    expect(taken.status).toBe(2);
    expect(taken.stderr).toBe(
      `busdip: port ${served.port} cannot be had; give another with --port, or --port 0 for any free one\n`,
    );
    const other = await servePage("--store", join(folder.path, "y.db"));
    expect(await other.stop()).toBe(0);
  });
});
