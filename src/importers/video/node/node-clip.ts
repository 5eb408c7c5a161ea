import { open, stat } from "node:fs/promises";
import { InputError } from "../../input-error.js";
import { clipImporter } from "./clip-container.js";
import type { NodeClip } from "./decoded-clip.js";
import { findSystemDecoder, systemClip } from "./system-decoder.js";

export type { NodeClip } from "./decoded-clip.js";

export type DecoderName = "library" | "system";

/**
 * Opens a film clip with the decoder library, or with the system's `ffmpeg` where the library is not installed.
 *
 * @throws InputError where there is no such file, it is no clip, has no picture, is damaged, or nothing can decode it.
 */
export async function openClip(
  path: string,
  wish: { readonly decoders?: readonly DecoderName[] } = {},
): Promise<NodeClip> {
  await checkClipFile(path);
  const decoders = wish.decoders ?? ["library", "system"];
  if (decoders.includes("library")) {
    const { libraryClip, loadLibrary } = await import("./library-decoder.js");
    const library = await loadLibrary();
    if (library !== null) return libraryClip(path, library);
  }
  if (decoders.includes("system")) {
    const version = await findSystemDecoder();
    if (version !== null) return systemClip(path, version);
  }
  throw new InputError({
    file: path,
    problem: "nothing on this machine can decode a film clip",
    remedy: "run npm ci again with optional packages (node-av), or install ffmpeg",
  });
}

/** Whether the first bytes of a file are those of a film clip; false also where it cannot be read. */
export async function looksLikeClip(path: string): Promise<boolean> {
  const head = await firstBytes(path).catch(() => null);
  return head !== null && clipImporter.recognize(head, path).answer === "mine";
}

async function checkClipFile(path: string): Promise<void> {
  const refuse = (problem: string, remedy: string) => new InputError({ file: path, problem, remedy });
  const facts = await stat(path).catch((fault: NodeJS.ErrnoException) => {
    if (fault.code === "ENOENT" || fault.code === "ENOTDIR") throw refuse("there is no such file", "check the path");
    throw refuse(`this file cannot be read (${fault.code})`, "check the path and its permissions");
  });
  if (facts.isDirectory()) throw refuse("this is a folder", "give a film clip");
  if (facts.size === 0) throw refuse("the file is empty", "copy the clip again from the phone");
  const head = await firstBytes(path).catch((fault: NodeJS.ErrnoException) => {
    throw refuse(`this file cannot be read (${fault.code})`, "check its permissions");
  });
  const answer = clipImporter.recognize(head, path);
  if (answer.answer === "need-more")
    throw refuse("the file is too short for a clip", "copy the clip again from the phone");
  if (answer.answer !== "mine") throw refuse(answer.sentence, "give a clip as the phone wrote it (MP4, MOV or WebM)");
}

async function firstBytes(path: string): Promise<Uint8Array> {
  const file = await open(path);
  try {
    const { buffer, bytesRead } = await file.read(new Uint8Array(64), 0, 64, 0);
    return buffer.subarray(0, bytesRead);
  } finally {
    await file.close();
  }
}
