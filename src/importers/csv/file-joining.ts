import { InputError } from "../input-error.js";
import type { LogFileReader } from "./log-file-reader.js";
import type { LogFinding } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import type { FileRows, SeriesSet } from "./series-set.js";

/**
 * Puts the rows of several files on one time axis, in place.
 *
 * Stamps and epoch times order the files by themselves. Elapsed times that start anew need the gap told.
 *
 * @throws {InputError} where the files' times are of different kinds, overlap, or start anew without a gap told.
 */
export function joinFiles(
  set: SeriesSet,
  readers: readonly LogFileReader[],
  series: readonly Float64Array[],
  options: LogOptions,
): LogFinding[] {
  const files = set.files.filter((file) => file.endRow > file.startRow);
  const found: LogFinding[] = readers.length > 1 ? [{ code: "files-joined", fileCount: readers.length }] : [];
  const kinds = new Set(readers.map((reader) => kindOf(reader)));
  if (kinds.size > 1) {
    throw new InputError({
      problem: `the files tell their times in different ways (${[...kinds].join(", ")})`,
      remedy: "give files of one logger, or name --time-column and --time-format",
    });
  }
  if (files.length < 2) return found;
  const times = series[0]!;
  if (kinds.has("elapsed")) carryOn(files, times, options);
  else if (kinds.has("absolute") && reorder(set, files, series)) found.push({ code: "files-ordered" });
  return found;
}

function kindOf(reader: LogFileReader): "absolute" | "elapsed" | "clock" | "interval" {
  const source = reader.sink!.timeReader.source;
  if (source.form === "clock") return source.durations ? "elapsed" : "clock";
  return source.form === "elapsed" || source.form === "interval" ? source.form : "absolute";
}

function carryOn(files: readonly FileRows[], times: Float64Array, options: LogOptions): void {
  for (let i = 1; i < files.length; i += 1) {
    const file = files[i]!;
    const before = times[files[i - 1]!.endRow - 1]!;
    const start = times[file.startRow]!;
    if (start >= before) continue;
    if (options.fileGapS === undefined) {
      throw new InputError({
        file: file.file,
        problem: "its elapsed times start anew, so the time since the file before is not known",
        remedy: "say it with --file-gap SECONDS, or analyze the files one by one",
      });
    }
    const shift = before + options.fileGapS - start;
    for (let row = file.startRow; row < file.endRow; row += 1) times[row] = times[row]! + shift;
  }
}

/** Sorts the files by their first time. Returns whether any moved. @throws {InputError} where they overlap. */
function reorder(set: SeriesSet, files: readonly FileRows[], series: readonly Float64Array[]): boolean {
  const times = series[0]!;
  const order = [...files].sort((a, b) => times[a.startRow]! - times[b.startRow]!);
  for (let i = 1; i < order.length; i += 1) {
    const [before, after] = [order[i - 1]!, order[i]!];
    if (times[after.startRow]! < times[before.endRow - 1]!) {
      throw new InputError({
        file: after.file,
        problem: `its times overlap those of ${before.file}`,
        remedy: "give the files of one recording, each once",
      });
    }
  }
  if (order.every((file, i) => file === files[i])) return false;
  for (const values of series) {
    const kept = values.slice();
    let at = 0;
    for (const file of order) {
      values.set(kept.subarray(file.startRow, file.endRow), at);
      at += file.endRow - file.startRow;
    }
  }
  renumber(set, order);
  return true;
}

function renumber(set: SeriesSet, order: readonly FileRows[]): void {
  let at = 0;
  const moved = order.map((file): FileRows => {
    const shift = at - file.startRow;
    at += file.endRow - file.startRow;
    return {
      file: file.file,
      startRow: file.startRow + shift,
      endRow: file.endRow + shift,
      newestFirst: file.newestFirst,
      lineMarks: file.lineMarks.map(([row, line]) => [row + shift, line]),
    };
  });
  set.files.splice(0, set.files.length, ...moved);
}
