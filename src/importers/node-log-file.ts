import { createHash, type Hash } from "node:crypto";
import { open, stat } from "node:fs/promises";
import { basename } from "node:path";
import { createGunzip } from "node:zlib";
import type { LogFile } from "./csv/csv-importer.js";
import { InputError } from "./input-error.js";
import { hashInThread } from "./node-hash.js";

const CHUNK_BYTES = 1 << 20;
/** From this size on a thread for the hash pays. */
const LARGE_BYTES = 1 << 24;

/** A log on disk or from standard input, with a running hash of its stored bytes. */
export interface StoredLog extends LogFile {
  /** SHA-256 of the stored bytes in hex, after `open` has been read to its end. */
  readonly sha256: () => Promise<string>;
  readonly storedBytes: () => number;
  readonly compressed: () => boolean;
}

/** A log file on disk. @throws {InputError} where there is no such file or it is a folder. */
export async function logOnDisk(path: string): Promise<StoredLog> {
  const facts = await stat(path).catch((fault: NodeJS.ErrnoException) => fault.code ?? "unknown");
  if (typeof facts === "string") throw unreadableFile(path, facts);
  if (facts.isDirectory()) throw new InputError({ file: path, problem: "this is a folder", remedy: "give a log file" });
  const head = await firstBytes(path);
  const size = isGzip(head) || !facts.isFile() ? null : facts.size;
  const chunks = (): AsyncGenerator<Uint8Array> => fileChunks(path, size);
  return size !== null && size >= LARGE_BYTES ? large(path, size) : stored(basename(path), size, chunks);
}

/** A large plain file: read here and hashed beside, both up to the size it had when it was opened. */
function large(path: string, size: number): StoredLog {
  let hash: Promise<string> | null = null;
  return {
    name: basename(path),
    size,
    open() {
      hash ??= hashInThread(path, size);
      return fileChunks(path, size);
    },
    sha256: () => hash ?? hashInThread(path, size),
    storedBytes: () => size,
    compressed: () => false,
  };
}

function unreadableFile(path: string, code: string): InputError {
  if (code === "ENOENT")
    return new InputError({ file: path, problem: "there is no such file", remedy: "check the path" });
  if (code === "EACCES")
    return new InputError({ file: path, problem: "this file may not be read", remedy: "check its permissions" });
  return new InputError({ file: path, problem: `this file cannot be read (${code})`, remedy: "check the path" });
}

/** The log on standard input; what was read is kept, for opening again, until `release` is called. */
export function logOnStandardInput(input: AsyncIterable<Uint8Array> = process.stdin): StoredLog {
  let kept: Uint8Array[] | null = [];
  const source = input[Symbol.asyncIterator]();
  const chunks = async function* (): AsyncGenerator<Uint8Array> {
    for (const chunk of kept ?? []) yield chunk;
    for (let next = await source.next(); next.done !== true; next = await source.next()) {
      kept?.push(next.value);
      yield next.value;
    }
  };
  const release = (): void => {
    kept = null;
  };
  return { ...stored("standard input", null, chunks), release };
}

function stored(name: string, size: number | null, chunks: () => AsyncGenerator<Uint8Array>): StoredLog {
  let hash: Hash | null = null;
  let digest: string | null = null;
  let byteCount = 0;
  let compressed = false;
  async function* hashed(): AsyncGenerator<Uint8Array> {
    const running = createHash("sha256");
    hash = running;
    byteCount = 0;
    for await (const chunk of chunks()) {
      running.update(chunk);
      byteCount += chunk.length;
      yield chunk;
    }
  }
  return {
    name,
    size,
    async *open() {
      const source = hashed();
      const first = await source.next();
      if (first.done === true) return;
      compressed = isGzip(first.value);
      if (compressed) yield* unpacked(first.value, source);
      else {
        yield first.value;
        yield* source;
      }
    },
    async sha256() {
      digest ??= hash?.digest("hex") ?? "";
      return digest;
    },
    storedBytes: () => byteCount,
    compressed: () => compressed,
  };
}

function isGzip(bytes: Uint8Array): boolean {
  return bytes[0] === 0x1f && bytes[1] === 0x8b;
}

async function* unpacked(first: Uint8Array, rest: AsyncIterable<Uint8Array>): AsyncGenerator<Uint8Array> {
  const gunzip = createGunzip({ chunkSize: CHUNK_BYTES });
  const feed = async (): Promise<void> => {
    gunzip.write(Buffer.from(first));
    for await (const chunk of rest) {
      // The chunk is reused by its source, so it must be taken before the next is asked for.
      if (!gunzip.write(Buffer.from(chunk))) await new Promise((go) => gunzip.once("drain", go));
    }
    gunzip.end();
  };
  const fed = feed().catch((fault: Error) => gunzip.destroy(fault));
  try {
    yield* gunzip as AsyncIterable<Uint8Array>;
    await fed;
  } catch (fault) {
    if (!isPackingFault(fault)) throw fault;
    throw new InputError({
      problem: "the compressed data are damaged or cut short",
      remedy: "copy the file again, or unpack it and give what can be read",
    });
  } finally {
    gunzip.destroy();
  }
}

function isPackingFault(fault: unknown): boolean {
  const code = (fault as NodeJS.ErrnoException | null)?.code ?? "";
  return code.startsWith("Z_") || code === "ERR_STREAM_PREMATURE_CLOSE";
}

async function firstBytes(path: string): Promise<Uint8Array> {
  for await (const chunk of fileChunks(path, 2)) return chunk.slice();
  return new Uint8Array(0);
}

/**
 * The bytes of a file in pieces, the first `size` of them or all for null; each piece is valid until the next is asked
 * for, and is read while the one before is used.
 */
async function* fileChunks(path: string, size: number | null): AsyncGenerator<Uint8Array> {
  const file = await open(path).catch((fault: NodeJS.ErrnoException) => {
    throw unreadableFile(path, fault.code ?? "unknown");
  });
  try {
    let left = size ?? Number.POSITIVE_INFINITY;
    const pieceBytes = Math.min(CHUNK_BYTES, Math.max(1, left));
    const buffers = [new Uint8Array(pieceBytes), new Uint8Array(pieceBytes)];
    let turn = 0;
    let pending = file.read(buffers[0]!, 0, pieceBytes, null);
    for (;;) {
      const { bytesRead, buffer } = await pending.catch((fault: NodeJS.ErrnoException) => {
        throw unreadableFile(path, fault.code ?? "unknown");
      });
      const count = Math.min(bytesRead, left);
      if (count === 0) return;
      left -= count;
      turn = 1 - turn;
      pending = file.read(buffers[turn]!, 0, pieceBytes, null);
      yield buffer.subarray(0, count);
    }
  } finally {
    await file.close();
  }
}
