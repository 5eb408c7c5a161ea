import { unzlibSync } from "fflate";
import type { CarriedFile, EmbeddedReading } from "./embedded-data.js";

/** An object of a PDF file, its stream unpacked; null where it has none, or one that cannot be unpacked. */
interface PdfObject {
  readonly dictionary: string;
  readonly stream: Uint8Array | null;
  readonly damaged: boolean;
}

const CARRIED_NAMES: readonly CarriedFile["name"][] = [
  "recording.csv",
  "profile.yaml",
  "marks.csv",
  "check.yaml",
  "pictures.json",
  "result.json",
];

/** All attached files as text by their names, and those that cannot be unpacked with a half-sentence why. */
export function readAttachments(bytes: Uint8Array): Attachments {
  return attachmentsIn(readObjects(bytes));
}

interface Attachments {
  readonly files: ReadonlyMap<string, string>;
  readonly damaged: ReadonlyMap<string, string>;
}

function attachmentsIn(objects: ReadonlyMap<number, PdfObject>): Attachments {
  const files = new Map<string, string>();
  const damaged = new Map<string, string>();
  for (const { dictionary } of objects.values()) {
    const name = /\/Type \/Filespec[\s\S]*\/UF \(([^)]*)\)/.exec(dictionary)?.[1];
    const id = /\/EF <<\s*\/F (\d+) 0 R/.exec(dictionary)?.[1];
    if (name === undefined || id === undefined) continue;
    const stream = objects.get(Number(id))?.stream ?? null;
    const text = stream === null ? null : utf8(stream);
    if (text === null) damaged.set(name, "it cannot be unpacked");
    else files.set(name, text);
  }
  return { files, damaged };
}

/** Takes the carried files out of a PDF record as `renderPdfRecord` writes it. */
export function readEmbeddedPdf(bytes: Uint8Array): EmbeddedReading {
  return readWithPrefix(readObjects(bytes), "");
}

/** Takes the carried files of each record out of a PDF of several, in their order; empty for a PDF of one. */
export function readEmbeddedPdfs(bytes: Uint8Array): readonly EmbeddedReading[] {
  const objects = readObjects(bytes);
  const numbers = [...objects.values()].flatMap(({ dictionary }) => {
    const found = /\/Type \/Filespec[\s\S]*\/UF \((\d{1,4})-[a-z.]+\)/.exec(dictionary);
    return found === null ? [] : [Number(found[1])];
  });
  const count = numbers.reduce((a, b) => Math.max(a, b), 0);
  return Array.from({ length: count }, (_, i) => readWithPrefix(objects, `${i + 1}-`));
}

function readWithPrefix(objects: ReadonlyMap<number, PdfObject>, prefix: string): EmbeddedReading {
  const found = attachmentsIn(objects);
  const files = new Map<CarriedFile["name"], string>();
  const damaged = new Map<CarriedFile["name"] | "busdip-record", string>();
  for (const name of CARRIED_NAMES) {
    const text = found.files.get(prefix + name);
    const why = found.damaged.get(prefix + name);
    if (text !== undefined) files.set(name, text);
    if (why !== undefined) damaged.set(name, why);
  }
  if (!files.has("result.json") && !damaged.has("result.json")) {
    damaged.set("result.json", "no result is attached, or another program has written the file anew");
  }
  return { files, damaged };
}

/** Names the parts in which two PDF records differ once the carried files and the seal are set aside. */
export function comparePdf(found: Uint8Array, due: Uint8Array): readonly string[] {
  const [foundObjects, dueObjects] = [readObjects(found), readObjects(due)];
  const parts = new Set<string>();
  for (const id of new Set([...foundObjects.keys(), ...dueObjects.keys()])) {
    const [one, other] = [foundObjects.get(id), dueObjects.get(id)];
    if (one !== undefined && other !== undefined && sameObject(one, other)) continue;
    parts.add(partName(id, other ?? one!, dueObjects));
  }
  return [...parts];
}

function sameObject(one: PdfObject, other: PdfObject): boolean {
  if (plain(one.dictionary) !== plain(other.dictionary) || one.damaged !== other.damaged) return false;
  if (isCarried(one) || one.stream === null || other.stream === null)
    return (one.stream === null) === (other.stream === null);
  const { stream } = other;
  return one.stream.length === stream.length && one.stream.every((byte, i) => byte === stream[i]);
}

function isCarried({ dictionary }: PdfObject): boolean {
  return dictionary.includes("/Type /EmbeddedFile");
}

/** A dictionary without the length of its packed stream, which differs from one packer to the next. */
function plain(dictionary: string): string {
  return dictionary.replace(/\/Length \d+/, "");
}

function partName(id: number, object: PdfObject, objects: ReadonlyMap<number, PdfObject>): string {
  let page = 0;
  for (const { dictionary } of objects.values()) {
    if (!/\/Type \/Page\s/.test(dictionary)) continue;
    page++;
    if (new RegExp(`/Contents ${id} 0 R`).test(dictionary)) return `page ${page}`;
  }
  const type = /\/Type \/(\w+)/.exec(object.dictionary)?.[1];
  switch (type) {
    case "EmbeddedFile":
    case "Filespec":
      return "description of an attached file";
    case "Metadata":
      return "metadata";
    case "Page":
      return "make-up of a page";
    default:
      return type === undefined ? "inner structure" : `inner structure (${type})`;
  }
}

/** All objects by number, found by their heads, so that a damaged table of offsets hides none; a later one counts. */
function readObjects(bytes: Uint8Array): ReadonlyMap<number, PdfObject> {
  const objects = new Map<number, PdfObject>();
  const text = latin1(bytes);
  for (const head of text.matchAll(/(?<=\n)(\d{1,7}) 0 obj\n/g)) {
    const object = readObject(bytes, text, head.index + head[0].length);
    if (object !== null) objects.set(Number(head[1]), object);
  }
  return objects;
}

function readObject(bytes: Uint8Array, text: string, from: number): PdfObject | null {
  const end = text.indexOf("\nendobj", from);
  const streamAt = text.indexOf("\nstream\n", from);
  if (end < 0) return null;
  if (streamAt < 0 || streamAt > end) return { dictionary: text.slice(from, end), stream: null, damaged: false };
  const dictionary = text.slice(from, streamAt);
  const length = Number(/\/Length (\d+)/.exec(dictionary)?.[1]);
  const start = streamAt + "\nstream\n".length;
  const stored = bytes.subarray(start, start + length);
  // A program that has written the file anew may end a stream without a line of its own.
  if (!/^\r?\n?endstream/.test(text.slice(start + length, start + length + 11)))
    return { dictionary, stream: null, damaged: true };
  if (!dictionary.includes("/FlateDecode")) return { dictionary, stream: stored, damaged: false };
  const stream = inflated(stored);
  return { dictionary, stream, damaged: stream === null };
}

/** Unpacks a stream and holds it against the sum at its end, which the unpacker itself passes over. */
function inflated(stored: Uint8Array): Uint8Array | null {
  try {
    const stream = unzlibSync(stored);
    const sum = new DataView(stored.buffer, stored.byteOffset + stored.length - 4, 4).getUint32(0);
    return adler32(stream) === sum ? stream : null;
  } catch {
    return null;
  }
}

/** Source: RFC 1950, 8.2 (from memory). */
function adler32(bytes: Uint8Array): number {
  let [a, b] = [1, 0];
  for (const byte of bytes) {
    a = (a + byte) % 65521;
    b = (b + a) % 65521;
  }
  return b * 65536 + a;
}

function latin1(bytes: Uint8Array): string {
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return text;
}

function utf8(bytes: Uint8Array): string | null {
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return null;
  }
}
