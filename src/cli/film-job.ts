import { createReadStream } from "node:fs";
import { basename, extname } from "node:path";
import type { BusProfile } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import { filmFacts } from "../importers/video/film-facts.js";
import type { NeedleReading } from "../importers/video/needle-reading.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";
import { saveUndecidedStill } from "./film-still-file.js";
import { readTextFile } from "./input-file.js";
import type { ReadRecording } from "./log-pair.js";
import type { Progress } from "./terminal.js";

/** What a person gave to have a clip read. */
export interface FilmRequest {
  readonly clipPath: string;
  readonly dialPath?: string;
  readonly profile: BusProfile | null;
  /** Where the still goes if the dial is not found; beside nothing else is written then. */
  readonly questionStillPath: string;
}

/** A clip with its needle read. */
export interface FilmReading {
  readonly clip: NodeClip;
  readonly reading: NeedleReading;
  readonly sha256: string;
}

/**
 * Opens the clip, finds its dial and reads the needle in every frame.
 *
 * @throws InputError where the clip or the dial file is at fault, or, once the still is written, where a person has to
 *   point out the dial.
 */
export async function readFilm(request: FilmRequest, progress: Progress, signal?: AbortSignal): Promise<FilmReading> {
  const { clipPath, dialPath, profile } = request;
  const video = await import("../importers/video/needle-reading.js");
  const dial = dialPath === undefined ? undefined : video.parseDial(await readTextFile(dialPath, "the dial"), dialPath);
  const { openClip } = await import("../importers/video/node/node-clip.js");
  const clip = await openClip(clipPath);
  if (dial !== undefined) await checkStillSize(clip, dial.still, dialPath!);
  progress.say("looking for the dial");
  const hints = {
    ...(dial === undefined ? {} : { dial }),
    ...(profile?.meter === undefined ? {} : { meter: profile.meter }),
    ...(profile?.battery === undefined ? {} : { battery: profile.battery }),
  };
  const found = await video.findDial(clip, hints, signal);
  if (found.kind === "question") {
    const shown = await saveUndecidedStill(clip, found, request.questionStillPath);
    const [problem, remedy] = found.instruction.replace(/\.$/, "").split(/: (.*)/s);
    throw new InputError({
      file: dialPath ?? clipPath,
      problem: lowerFirst(problem!),
      remedy: `${remedy ?? "film again"}${shown ? ` (the still is ${request.questionStillPath}${dialPath === undefined ? "; the places go into a dial file, given with --dial" : ""})` : ""}`,
    });
  }
  const startedAt = performance.now();
  const reading = await video
    .readNeedle(
      clip,
      found,
      ({ framesRead, frameCount }) => progress.say(pace(framesRead, frameCount, performance.now() - startedAt)),
      signal,
    )
    .catch((error: unknown) => {
      if (!(error instanceof InputError) || error.file !== undefined) throw error;
      throw new InputError({ file: clipPath, problem: error.problem, remedy: error.remedy });
    });
  return { clip, reading, sha256: await hashOf(clipPath) };
}

/** The clip as a recording, for the same job as a log. */
export function filmRecording({ clip, reading, sha256 }: FilmReading, clipPath: string): ReadRecording {
  return {
    recording: {
      timesS: reading.timesS,
      voltagesV: reading.voltagesV,
      readingUncertaintiesV: reading.readingUncertaintiesV,
      asidesV: reading.asidesV,
      gainUncertainty: reading.gainUncertainty,
    },
    sha256,
    source: basename(clipPath),
    description: {},
    understood: filmFacts(clip.decoder, reading).map((fact) => `Film clip: ${fact}.`),
    clocks: null,
  };
}

/** Where the still goes when nobody said where: into the current folder, under the clip's name. */
export function questionStillPath(clipPath: string): string {
  return `${basename(clipPath, extname(clipPath))}.still.png`;
}

/** How far the reading is, how fast, and how long it will take. */
export function pace(framesRead: number, frameCount: number | null, elapsedMs: number): string {
  const perS = (1000 * framesRead) / Math.max(1, elapsedMs);
  const rate = `${perS.toFixed(0)} frames/s`;
  if (frameCount === null || frameCount < framesRead) return `reading frame ${framesRead} (${rate})`;
  const leftS = Math.ceil((frameCount - framesRead) / perS);
  return `reading frame ${framesRead} of ${frameCount} (${rate}, ${leftS} s left)`;
}

async function checkStillSize(clip: NodeClip, still: { width: number; height: number }, file: string): Promise<void> {
  const { uprightSize } = await import("../importers/video/upright.js");
  const { width, height } = uprightSize(clip);
  if (still.width === width && still.height === height) return;
  throw new InputError({
    file,
    problem: `the still is ${still.width} x ${still.height} pixels, but the clip's picture is ${width} x ${height}`,
    remedy: "point out the dial on a still of this clip, at its full size",
  });
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
}

async function hashOf(path: string): Promise<string> {
  const { createHash } = await import("node:crypto");
  const hash = createHash("sha256");
  for await (const piece of createReadStream(path)) hash.update(piece as Buffer);
  return hash.digest("hex");
}
