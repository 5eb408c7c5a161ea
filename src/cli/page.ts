import type { Command } from "commander";
import { InputError } from "../importers/input-error.js";
import { numberAfter } from "./number-option.js";
import { STORE_FLAG, STORE_HELP } from "./store-option.js";
import { print } from "./terminal.js";

const USUAL_PORT = 8471;
const LOOPBACK = "127.0.0.1";

interface PageOptions {
  readonly port?: number;
  readonly store?: string;
  readonly host?: string;
}

/** `busdip page`: serves the page and the history behind it to browsers on this machine, or on the network if asked. */
export function describeCommand(command: Command): void {
  command
    .option("--port <number>", `port of the address, ${USUAL_PORT} unless told; 0 for any free one`, (text) =>
      Math.round(numberAfter("--port", text, 0, 65_535)),
    )
    .option(STORE_FLAG, STORE_HELP)
    .option(
      "--host <address>",
      "address to listen at, for other devices too (0.0.0.0 for all); they must enter a code shown here",
    )
    .action(runPage);
}

async function runPage(options: PageOptions): Promise<void> {
  const { builtFiles } = await import("./page-files.js");
  const { PageGuard } = await import("./page-guard.js");
  const { pageServer } = await import("./page-server.js");
  const host = options.host ?? LOOPBACK;
  const isOpen = !/^(127\.\d+\.\d+\.\d+|localhost|::1)$/.test(host);
  const guard = new PageGuard(host, isOpen, (code) => print(`Code for the next device: ${code}`));
  const server = pageServer({ files: await builtFiles(), guard, store: options.store });
  const port = await listening(server, options.port ?? USUAL_PORT, host);
  guard.port = port;
  const stop = (): void => {
    server.close();
    server.closeAllConnections();
  };
  process.once("SIGINT", stop);
  process.once("SIGTERM", stop);
  print(`The page: ${guard.address()}`);
  if (isOpen) {
    print("Open to the network over plain http: use it only in a network that you trust.");
    print("On other devices the camera and use without a network need https, so a browser may refuse them there.");
    guard.showCode();
  }
  print("Stop it with Ctrl+C.");
  await new Promise((done) => server.once("close", done));
}

function listening(server: import("node:http").Server, port: number, host: string): Promise<number> {
  return new Promise((done, fail) => {
    server.once("error", (fault: NodeJS.ErrnoException) => {
      const taken = fault.code === "EADDRINUSE" || fault.code === "EACCES";
      fail(
        new InputError({
          problem: taken ? `port ${port} cannot be had` : `${host} cannot be listened at (${fault.code})`,
          remedy: taken ? "give another with --port, or --port 0 for any free one" : "give an address of this machine",
        }),
      );
    });
    server.listen(port, host, () => {
      const address = server.address();
      done(typeof address === "object" && address !== null ? address.port : port);
    });
  });
}
