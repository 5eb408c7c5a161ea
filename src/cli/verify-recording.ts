import type { Recording } from "../core/index.js";
import { readLog } from "../importers/node.js";
import type { StatedInputs } from "../report/record-inputs.js";
import { readRecordingCsv, recordingCsvPieces } from "../report/recording-csv.js";
import type { ResultJson } from "../report/result-schema.js";
import { hashInPieces, sha256Hex } from "../report/seal.js";
import { readBytes } from "./input-file.js";

/** The readings to compute from, and whether they are those that the result names. */
export interface FoundReadings {
  readonly recording: Recording | null;
  readonly holds: boolean;
  readonly detail: string;
}

/** Reads carried or given readings in the canonical form. */
export function readingsFromText(text: string, stated: StatedInputs | undefined): FoundReadings {
  const sha256 = sha256Hex(text);
  const reading = readRecordingCsv(text);
  const recording = reading.ok ? reading.recording : null;
  if (stated !== undefined && stated.recording.sha256 !== sha256) {
    const where = reading.ok ? "" : `; line ${reading.line}: ${reading.problem}`;
    return { recording, holds: false, detail: `not the readings that the result was computed from${where}` };
  }
  if (!reading.ok) return { recording, holds: false, detail: `line ${reading.line}: ${reading.problem}` };
  return { recording, holds: true, detail: `${recording!.timesS.length.toLocaleString("en")} readings` };
}

/**
 * Reads a file given beside the record: the readings as used, or the log they came from.
 *
 * @throws InputError where the file cannot be read.
 */
export async function readingsFromFile(path: string, result: ResultJson): Promise<FoundReadings> {
  const stated = result.inputs as StatedInputs | undefined;
  const bytes = await readBytes(path, "the recording");
  if (stated === undefined || sha256Hex(bytes) === stated.recording.sha256) {
    const carried = readingsFromText(new TextDecoder().decode(bytes), stated);
    if (carried.recording !== null) return carried;
  }
  const log = await readLog([path], (stated?.log ?? {}) as Parameters<typeof readLog>[1]);
  if (log.sha256 !== result.recording.sha256) {
    return {
      recording: log.recording,
      holds: false,
      detail: `${path} is not the log that the result was computed from`,
    };
  }
  const hash = hashInPieces();
  for (const piece of recordingCsvPieces(log.recording)) hash.update(new TextEncoder().encode(piece));
  if (stated !== undefined && hash.hex() !== stated.recording.sha256) {
    const detail = `${path} is the log, but reads otherwise than it did`;
    return { recording: log.recording, holds: false, detail };
  }
  return { recording: log.recording, holds: true, detail: `${path}, the log that the result names` };
}
