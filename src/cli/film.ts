import { basename, dirname, extname } from "node:path";
import type { Command } from "commander";
import type { BusProfile } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import { readTextFile } from "./input-file.js";
import { refuseOverwriting, writeIntoFolder } from "./output-folder.js";
import { print, progressLine } from "./terminal.js";

interface FilmOptions {
  readonly dial?: string;
  readonly profile?: string;
  readonly still?: string;
  readonly marksFromAudio?: true;
  readonly out?: string;
}

/** What a shell reports for a program that a person stopped with Ctrl-C (128 + SIGINT). */
const STOPPED = 130;

/** `busdip film`: from a clip of the meter to its readings. */
export function describeCommand(command: Command): void {
  command
    .argument("<clip>", "film of the meter's needle (MP4, MOV or WebM, as the phone wrote it)")
    .option("--dial <file>", "pivot and scale marks as pointed out on a still (YAML)")
    .option("--profile <file>", "what is known about the bus and its meter (YAML); tells the scale")
    .option("--still <file>", "write the still with what was found drawn on it (PNG)")
    .option(
      "--marks-from-audio",
      "also write the clicks heard as switchings, on and off as the needle moves at them, beside the readings",
    )
    .option("--out <file>", "write the readings here (CSV), else they are printed")
    .action(async (clipPath: string, options: FilmOptions) => {
      const stop = new AbortController();
      const onStop = () => stop.abort();
      process.once("SIGINT", onStop);
      try {
        await runFilm(clipPath, options, stop.signal);
      } catch (error) {
        if (!stop.signal.aborted) throw error;
        process.exitCode = STOPPED;
      } finally {
        process.removeListener("SIGINT", onStop);
      }
    });
}

async function runFilm(clipPath: string, options: FilmOptions, signal: AbortSignal): Promise<void> {
  if (options.marksFromAudio === true && options.out === undefined)
    throw new InputError({
      problem: "--marks-from-audio stands without --out",
      remedy: "name the file of the readings; the marks are written beside it",
    });
  const stem = options.out === undefined ? clipPath : options.out;
  const marksPath = `${stem.slice(0, stem.length - extname(stem).length)}.marks.csv`;
  const inputs = [clipPath, options.dial, options.profile].filter((path) => path !== undefined);
  const outputs = [options.out, options.still, options.marksFromAudio === true ? marksPath : undefined];
  for (const path of outputs) {
    if (path !== undefined) refuseOverwriting(dirname(path), [basename(path)], inputs);
  }
  const profile = await profileFrom(options.profile);
  const progress = progressLine();
  const { questionStillPath, readFilm } = await import("./film-job.js");
  const film = await readFilm(
    {
      clipPath,
      ...(options.dial === undefined ? {} : { dialPath: options.dial }),
      profile,
      questionStillPath: options.still ?? questionStillPath(clipPath),
    },
    progress,
    signal,
  ).catch((error: unknown) => {
    progress.done();
    throw error;
  });
  const files: [string, string | Uint8Array][] = [];
  const said: string[] = [];
  const facts: string[] = [];
  if (options.marksFromAudio === true) {
    progress.say("listening for the switch");
    const { heardMarks } = await import("./film-marks.js");
    const heard = await heardMarks(film.clip, film.reading, signal);
    if (heard.marksCsv !== null) files.push([marksPath, heard.marksCsv]);
    facts.push(...heard.facts);
    said.push(heard.marksCsv === null ? heard.sentence : `${heard.sentence} ${marksPath}`);
  }
  const { filmReadingsCsv } = await import("./film-readings.js");
  const { filmFacts } = await import("../importers/video/film-facts.js");
  const csv = filmReadingsCsv(film, facts);
  if (options.still !== undefined) {
    progress.say("drawing the still");
    const { foundStillPng } = await import("./film-still-file.js");
    files.push([options.still, await foundStillPng(film.clip, film.reading.dial)]);
  }
  if (options.out !== undefined) files.push([options.out, csv]);
  signal.throwIfAborted();
  for (const [path, content] of files) await writeIntoFolder(dirname(path), new Map([[basename(path), content]]));
  progress.done();
  if (options.out === undefined) {
    print(csv);
    return;
  }
  print(
    [
      `Readings  ${options.out}`,
      ...filmFacts(film.clip.decoder, film.reading).map((fact) => `  ${fact}`),
      ...said,
    ].join("\n"),
  );
}

async function profileFrom(path: string | undefined): Promise<BusProfile | null> {
  if (path === undefined) return null;
  const text = await readTextFile(path, "the profile");
  const { readProfile } = await import("../importers/profile/profile.js");
  return readProfile(text, path);
}
