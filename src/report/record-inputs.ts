import type { Cadence, Recording, Uncertain } from "../core/index.js";
import { recordingCsvPieces } from "./recording-csv.js";
import { hashInPieces, sha256Hex } from "./seal.js";

/** Readings beyond this are not carried inside a report; then the recording must be given to verify. */
export const LARGEST_CARRIED_BYTES = 20_000_000;

/** How strictly was judged; with the readings, the profile and the marks it fixes every number of a result. */
export interface RecordOptions {
  readonly falseAlarmRate: number;
  readonly power: number;
  /** Standard uncertainty of a marked time. */
  readonly markUncertaintyS: number;
  /** Rhythm that the switching kept to where no times were marked; null where nobody said. */
  readonly cadence?: Cadence | null;
  /** Temperature, degrees Celsius, and state of charge (0 to 1) of the battery; null or left out where nobody said. */
  readonly temperatureC?: Uncertain | null;
  readonly stateOfCharge?: Uncertain | null;
  readonly seed: number;
}

/** What went into a result beside the readings. */
export interface GivenInputs {
  /** The profile as the person wrote it; null where none was given. */
  readonly profileText: string | null;
  /** The switching marks as the person wrote them; null where none were given. */
  readonly marksText: string | null;
  /** The ticked run sheet as the person wrote it; null or left out where none was given. */
  readonly sheetText?: string | null;
  /** Pictures of what a film showed (`pictures.ts`); null or left out where there are none. */
  readonly picturesText?: string | null;
  readonly options: RecordOptions;
  /** SHA-256 over the program files that computed the result. */
  readonly judgementSha256: string;
  /** How the log was read, in the importer's own terms, so that the original can be read again. */
  readonly logOptions?: Readonly<Record<string, unknown>>;
  /** The shop's own form of the draft entry; null for the usual one. */
  readonly entryTemplate?: string | null;
}

/** Everything from which a result can be computed again. */
export interface RecordInputs extends GivenInputs {
  readonly recordingFile: {
    readonly sha256: string;
    readonly bytes: number;
    /** The readings as used; null where they are too many to be carried. */
    readonly text: string | null;
    /** What the log's times could tell apart, s; absent where that is not known. */
    readonly clockResolutionS?: number;
  };
}

/** The inputs as `result.json` states them, names as in the contract. */
export interface StatedInputs {
  readonly recording: {
    readonly file: string;
    readonly sha256: string;
    readonly bytes: number;
    readonly clockResolution_s?: number;
  };
  readonly profile: StatedText | null;
  readonly marks: StatedText | null;
  readonly sheet?: StatedText;
  /** Carried, but too large to be stated word by word. */
  readonly pictures?: Omit<StatedText, "text">;
  readonly options: {
    readonly falseAlarmRate: number;
    readonly power: number;
    readonly markUncertainty_s: number;
    readonly cadence?: { readonly on_s: number; readonly off_s: number; readonly switchings: number | null } | null;
    readonly temperature_C?: Uncertain;
    readonly stateOfCharge?: Uncertain;
    readonly seed: number;
  };
  readonly judgement: { readonly sha256: string };
  readonly log: Readonly<Record<string, unknown>> | null;
  readonly entryTemplate: string | null;
}

interface StatedText {
  readonly file: string;
  readonly sha256: string;
  readonly text: string;
}

/** Writes the readings as used beside the other inputs, with their hash. */
export function recordInputs(recording: Recording, given: GivenInputs): RecordInputs {
  const encoder = new TextEncoder();
  const hash = hashInPieces();
  let bytes = 0;
  let pieces: string[] | null = [];
  for (const piece of recordingCsvPieces(recording)) {
    const encoded = encoder.encode(piece);
    hash.update(encoded);
    bytes += encoded.length;
    if (bytes > LARGEST_CARRIED_BYTES) pieces = null;
    pieces?.push(piece);
  }
  const { clockResolutionS } = recording;
  return {
    ...given,
    recordingFile: {
      sha256: hash.hex(),
      bytes,
      text: pieces === null ? null : pieces.join(""),
      ...(clockResolutionS === undefined ? {} : { clockResolutionS }),
    },
  };
}

/** The readings with what the result states of their clock, which their text does not tell. */
export function withStatedClock(recording: Recording, stated: StatedInputs | undefined): Recording {
  if (stated === undefined) return recording;
  const { clockResolutionS: _, ...readings } = recording;
  const { clockResolution_s: clockResolutionS } = stated.recording;
  return clockResolutionS === undefined ? readings : { ...readings, clockResolutionS };
}

function statedCadence(cadence: Cadence): NonNullable<StatedInputs["options"]["cadence"]> {
  return { on_s: cadence.onS, off_s: cadence.offS, switchings: cadence.switchingCount ?? null };
}

/** The stated rhythm in the core's terms. */
export function cadenceOf(stated: StatedInputs["options"]["cadence"]): Cadence | null {
  if (stated == null) return null;
  const { on_s: onS, off_s: offS, switchings } = stated;
  return switchings === null ? { onS, offS } : { onS, offS, switchingCount: switchings };
}

/** The inputs in the words of `result.json`. */
export function statedInputs(inputs: RecordInputs): StatedInputs {
  const { recordingFile, profileText, marksText, options } = inputs;
  const stated = (file: string, text: string | null) =>
    text === null ? null : { file, sha256: sha256Hex(text), text };
  return {
    recording: {
      file: "recording.csv",
      sha256: recordingFile.sha256,
      bytes: recordingFile.bytes,
      ...(recordingFile.clockResolutionS === undefined ? {} : { clockResolution_s: recordingFile.clockResolutionS }),
    },
    profile: stated("profile.yaml", profileText),
    marks: stated("marks.csv", marksText),
    ...(inputs.sheetText == null ? {} : { sheet: stated("check.yaml", inputs.sheetText)! }),
    ...(inputs.picturesText == null
      ? {}
      : { pictures: { file: "pictures.json", sha256: sha256Hex(inputs.picturesText) } }),
    options: {
      falseAlarmRate: options.falseAlarmRate,
      power: options.power,
      markUncertainty_s: options.markUncertaintyS,
      ...(options.cadence == null ? {} : { cadence: statedCadence(options.cadence) }),
      ...(options.temperatureC == null ? {} : { temperature_C: options.temperatureC }),
      ...(options.stateOfCharge == null ? {} : { stateOfCharge: options.stateOfCharge }),
      seed: options.seed,
    },
    judgement: { sha256: inputs.judgementSha256 },
    log: inputs.logOptions ?? null,
    entryTemplate: inputs.entryTemplate ?? null,
  };
}
