import { spawn } from "node:child_process";
import { fileURLToPath } from "node:url";

const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));

export interface ServedPage {
  readonly address: string;
  readonly port: number;
  /** Everything said on the terminal so far. */
  said(): string;
  /** Waits until the terminal says something that fits. */
  saying(pattern: RegExp): Promise<RegExpMatchArray>;
  stop(): Promise<number | null>;
}

/** Starts the built `busdip page` on a free port. */
export async function servePage(...words: string[]): Promise<ServedPage> {
  const child = spawn(process.execPath, [main, "page", "--port", "0", ...words], {
    env: { ...process.env, BUSDIP_DEBUG: "" },
  });
  let text = "";
  const listeners = new Set<() => void>();
  for (const stream of [child.stdout, child.stderr]) {
    stream.setEncoding("utf8").on("data", (piece: string) => {
      text += piece;
      for (const listener of listeners) listener();
    });
  }
  const ended = new Promise<number | null>((done) => child.once("exit", done));
  const saying = (pattern: RegExp): Promise<RegExpMatchArray> =>
    new Promise((done, fail) => {
      const look = (): void => {
        const match = text.match(pattern);
        if (match === null) return;
        listeners.delete(look);
        done(match);
      };
      listeners.add(look);
      look();
      void ended.then((status) => fail(new Error(`busdip page ended with ${status}: ${text}`)));
    });
  const [, address] = await saying(/The page: (http:\S+)/);
  return {
    address: address!,
    port: Number(new URL(address!).port),
    said: () => text,
    saying,
    async stop() {
      child.kill("SIGTERM");
      return ended;
    },
  };
}
