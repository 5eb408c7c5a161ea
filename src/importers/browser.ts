import { sha256 } from "@noble/hashes/sha2";
import { bytesToHex } from "@noble/hashes/utils";
import type { Recording } from "../core/index.js";
import { importLogs, type LogFile } from "./csv/csv-importer.js";
import { note } from "./csv/log-messages.js";
import type { LogOptions } from "./csv/log-options.js";
import { InputError } from "./input-error.js";

export type { LogOptions } from "./csv/log-options.js";
export { InputError } from "./input-error.js";
export { readMarks, writeMarks } from "./profile/marks.js";
export { readProfile } from "./profile/profile.js";
export { refuseUnusableMarks } from "./profile/usable-marks.js";

/** A recording read from one text log that a person chose in a browser. */
export interface ChosenLogReading {
  readonly recording: Recording;
  /** SHA-256 of the bytes as stored, in hex. */
  readonly sha256: string;
  readonly source: string;
  /** What was understood and doubted on the way, one sentence each. */
  readonly understood: readonly string[];
  /** Moment of time zero in seconds since the epoch; null where the log does not tell. */
  readonly startEpochS: number | null;
  /** Options that bring about the same reading again. */
  readonly description: LogOptions;
}

/** Reads a recording from a chosen file. @throws {InputError} with one sentence for the person. */
export async function readChosenLog(file: Blob, name: string, options: LogOptions = {}): Promise<ChosenLogReading> {
  const log = chosenLog(file, name);
  // Not every browser that reads logs runs the WebAssembly in which the quickest lane is written.
  const series = await importLogs([log], "voltage", options, "bytes");
  if (series.recording === null) {
    throw new InputError({ file: name, problem: "no row holds a voltage", remedy: "name the voltage column" });
  }
  refuseSingleMoment(series.recording, name);
  const findings = [...series.understood, ...series.warnings];
  return {
    recording: series.recording,
    sha256: log.sha256(),
    source: name,
    understood: (log.compressed() ? [note({ code: "compressed" }), ...findings] : findings).map((one) => one.text),
    startEpochS: series.startEpochS,
    description: series.description,
  };
}

function refuseSingleMoment({ timesS }: Recording, file: string): void {
  if (timesS.at(-1)! > timesS[0]!) return;
  throw new InputError({
    file,
    problem: timesS.length === 1 ? "there is only one reading" : `all ${timesS.length} readings have the same time`,
    remedy: "log the voltage for half a minute or longer, before, during and after the switchings",
  });
}

/** SHA-256 of a file's bytes, in hex; piece by piece, whatever its size. */
export async function blobSha256(file: Blob): Promise<string> {
  const hash = sha256.create();
  for await (const piece of pieces(file.stream())) hash.update(piece);
  return bytesToHex(hash.digest());
}

interface ChosenLog extends LogFile {
  /** After `open` has been read to its end. */
  readonly sha256: () => string;
  readonly compressed: () => boolean;
}

function chosenLog(file: Blob, name: string): ChosenLog {
  let hash = sha256.create();
  let compressed = false;
  async function* stored(): AsyncGenerator<Uint8Array> {
    hash = sha256.create();
    for await (const chunk of pieces(file.stream())) {
      hash.update(chunk);
      yield chunk;
    }
  }
  return {
    name,
    size: null,
    async *open() {
      const head = new Uint8Array(await file.slice(0, 2).arrayBuffer());
      compressed = head[0] === 0x1f && head[1] === 0x8b;
      if (compressed) yield* unpacked(stored());
      else yield* stored();
    },
    sha256: () => bytesToHex(hash.clone().digest()),
    compressed: () => compressed,
  };
}

async function* unpacked(stored: AsyncGenerator<Uint8Array>): AsyncGenerator<Uint8Array> {
  const source = new ReadableStream<Uint8Array<ArrayBuffer>>({
    async pull(controller) {
      const { value, done } = await stored.next();
      if (done === true) controller.close();
      else controller.enqueue(new Uint8Array(value));
    },
  });
  try {
    yield* pieces(source.pipeThrough(new DecompressionStream("gzip")));
  } catch (fault) {
    if (!(fault instanceof TypeError)) throw fault;
    throw new InputError({
      problem: "the compressed data are damaged or cut short",
      remedy: "copy the file again, or unpack it and give what can be read",
    });
  }
}

/** Not every browser can iterate a stream by itself. */
async function* pieces(stream: ReadableStream<Uint8Array>): AsyncGenerator<Uint8Array> {
  const reader = stream.getReader();
  try {
    for (;;) {
      const { value, done } = await reader.read();
      if (done) return;
      yield value;
    }
  } finally {
    await reader.cancel().catch(() => {});
  }
}
