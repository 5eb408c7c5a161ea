import { createHash } from "node:crypto";
import { createReadStream } from "node:fs";
import { Worker } from "node:worker_threads";

/** Runs by itself beside the reading, so that neither waits for the other; plain text because it is no module. */
const THREAD = `
const { parentPort, workerData } = require("node:worker_threads");
const { closeSync, openSync, readSync } = require("node:fs");
const hash = require("node:crypto").createHash("sha256");
const piece = Buffer.alloc(1 << 20);
const file = openSync(workerData.path, "r");
for (let left = workerData.size; left > 0; ) {
  const count = readSync(file, piece, 0, Math.min(left, piece.length), null);
  if (count === 0) break;
  hash.update(piece.subarray(0, count));
  left -= count;
}
closeSync(file);
parentPort.postMessage(hash.digest("hex"));
`;

/** SHA-256 in hex of the first `size` bytes of a file, found in a thread of its own. */
export async function hashInThread(path: string, size: number): Promise<string> {
  try {
    return await new Promise<string>((done, fail) => {
      const thread = new Worker(THREAD, { eval: true, execArgv: [], workerData: { path, size } });
      thread.once("message", done);
      thread.once("error", fail);
      thread.once("exit", () => fail(new Error("The thread ended without a hash")));
    });
  } catch {
    // Where no thread may be had the hash is found here, only later.
    return hashHere(path, size);
  }
}

async function hashHere(path: string, size: number): Promise<string> {
  const hash = createHash("sha256");
  if (size > 0) for await (const chunk of createReadStream(path, { end: size - 1 })) hash.update(chunk as Buffer);
  return hash.digest("hex");
}
