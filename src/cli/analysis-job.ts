import type { Analysis, BusProfile, Cadence, Recording, SwitchingMark } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import type { LogOptions } from "../importers/node.js";
import type { ReportContext } from "../report/index.js";
import type { GivenInputs } from "../report/record-inputs.js";
import type { ClockWishes } from "./clock-pair.js";
import type { LogDescriptions } from "./columns-step.js";
import type { FilmReading } from "./film-job.js";
import { readTextFile } from "./input-file.js";
import { type ReadRecording, readRecording } from "./log-pair.js";
import type { MarkOffset } from "./mark-offset.js";
import { judgementSha256, softwareVersion } from "./software-version.js";
import type { Progress } from "./terminal.js";

/** What a person asked to have judged. */
export interface AnalysisRequest {
  readonly recordingPaths: readonly string[];
  readonly currentPath?: string;
  readonly profilePath?: string;
  readonly marksPath?: string;
  readonly marksOffset?: MarkOffset;
  /** Pivot and marks of a meter, where the recording is a film clip. */
  readonly dialPath?: string;
  readonly logOptions: LogOptions;
  /** Saved descriptions of the logs, which the options overrule. */
  readonly columns?: LogDescriptions;
  /** What the person said about the clocks of two logs. */
  readonly clocks?: ClockWishes;
  readonly falseAlarmRate?: number;
  readonly power?: number;
  /** Standard uncertainty of a marked time. */
  readonly markUncertaintyS?: number;
  /** Rhythm of the switching where no times are marked. */
  readonly cadence?: Cadence;
  /** Temperature of the battery in degrees Celsius and its state of charge, as a person reads them. */
  readonly temperatureC?: number;
  readonly stateOfCharge?: number;
}

/** A judged recording with all that a report needs. */
export interface JudgedRecording {
  readonly recording: Recording;
  readonly analysis: Analysis;
  readonly context: ReportContext;
  /** How the clocks of two logs were brought together; null for a single log. */
  readonly clocks: string | null;
  /** How the logs were read; nothing for a film. */
  readonly descriptions: LogDescriptions;
  /** What the judgement rests on beside the readings. */
  readonly given: GivenInputs;
  /** The film that the readings come from; null for a log. */
  readonly film: FilmReading | null;
}

/** Judgement as it is without being told otherwise; stated in every record. */
const USUAL_OPTIONS = { falseAlarmRate: 0.01, power: 0.95, markUncertaintyS: 0.2, seed: 1 } as const;

/** How well a person knows temperature and charge of a battery (standard uncertainties). Common practice, no source. */
const READ_TEMPERATURE_K = 2;
const READ_CHARGE = 0.05;

/**
 * Reads the inputs, small ones first, and judges the recording.
 *
 * @throws InputError where an input is at fault.
 */
export async function judgeRecording(request: AnalysisRequest, progress: Progress): Promise<JudgedRecording> {
  const { profile, profileText } = await readProfileFile(request.profilePath);
  const marksAsGiven = await readMarksFile(request.marksPath, profile);

  progress.say("reading the recording");
  const film = await filmIn(request, profile, progress);
  const { recording, source, sha256, understood, digest, description, currentDescription, clocks } =
    film?.recording ??
    (await readRecording(request.recordingPaths, request.currentPath, request.logOptions, request.columns, {
      ...request.clocks,
      ...(profile?.meter?.lagS === undefined ? {} : { voltageLagS: profile.meter.lagS }),
    }));

  progress.say("judging the dips");
  const { marksOnClock } = await import("./mark-offset.js");
  const { marks, marksText, sentence } = await marksOnClock(marksAsGiven, request.marksOffset, recording, profile);
  const { analyze } = await import("../core/index.js");
  // Marks that are moved onto another clock are known no better than by hand.
  const { toldUncertaintyS } = await import("../importers/profile/marks.js");
  const told = request.marksOffset === undefined && marksText !== null ? toldUncertaintyS(marksText) : null;
  const markUncertaintyS = request.markUncertaintyS ?? told;
  const options = {
    ...USUAL_OPTIONS,
    ...(request.falseAlarmRate === undefined ? {} : { falseAlarmRate: request.falseAlarmRate }),
    ...(request.power === undefined ? {} : { power: request.power }),
    ...(markUncertaintyS === null ? {} : { markUncertaintyS }),
    ...(request.cadence === undefined ? {} : { cadence: request.cadence }),
    ...(request.temperatureC === undefined
      ? {}
      : { temperatureC: { value: request.temperatureC, u: READ_TEMPERATURE_K } }),
    ...(request.stateOfCharge === undefined ? {} : { stateOfCharge: { value: request.stateOfCharge, u: READ_CHARGE } }),
  };
  const analysis = analyze(recording, { marks, profile, ...options });
  progress.done();

  const { marksLeftOutText } = await import("../report/index.js");
  const leftOut = marksLeftOutText(analysis, "--explain lists them");
  const context: ReportContext = {
    source,
    sha256,
    profile,
    ...(profileText === null ? {} : { profileText }),
    understood: sentence === null ? understood : [...understood, sentence],
    ...(digest === undefined && leftOut === null
      ? {}
      : { digest: [...(digest ?? []), ...(leftOut === null ? [] : [leftOut])] }),
    softwareVersion: softwareVersion(),
    madeAt: momentOfMaking(),
  };
  const given: GivenInputs = {
    profileText,
    marksText,
    options,
    judgementSha256: judgementSha256(),
    logOptions: { ...description },
  };
  const descriptions = {
    ...(film === null ? { recording: description } : {}),
    ...(currentDescription === undefined ? {} : { current: currentDescription }),
  };
  return { recording, analysis, context, clocks, descriptions, given, film: film?.film ?? null };
}

/** The film clip that was given as the recording, read; null where a log was given. */
async function filmIn(
  request: AnalysisRequest,
  profile: BusProfile | null,
  progress: Progress,
): Promise<{ readonly film: FilmReading; readonly recording: ReadRecording } | null> {
  const [clipPath] = request.recordingPaths;
  const { looksLikeClip } = await import("../importers/video/node/node-clip.js");
  if (clipPath === undefined || clipPath === "-" || !(await looksLikeClip(clipPath))) {
    if (request.dialPath === undefined) return null;
    throw new InputError({ problem: "--dial stands beside a log", remedy: "give the film clip that the dial is in" });
  }
  if (request.recordingPaths.length > 1 || request.currentPath !== undefined)
    throw new InputError({
      file: clipPath,
      problem: "a film clip stands beside other recordings",
      remedy: "judge each clip alone, or turn it into readings with busdip film first",
    });
  const { readFilm, filmRecording, questionStillPath } = await import("./film-job.js");
  const dial = request.dialPath === undefined ? {} : { dialPath: request.dialPath };
  const film = await readFilm({ clipPath, ...dial, profile, questionStillPath: questionStillPath(clipPath) }, progress);
  return { film, recording: filmRecording(film, clipPath) };
}

async function readProfileFile(
  path: string | undefined,
): Promise<{ readonly profile: BusProfile | null; readonly profileText: string | null }> {
  if (path === undefined) return { profile: null, profileText: null };
  const profileText = await readTextFile(path, "the profile");
  const { readProfile } = await import("../importers/profile/profile.js");
  return { profile: readProfile(profileText, path), profileText };
}

async function readMarksFile(
  path: string | undefined,
  profile: BusProfile | null,
): Promise<{ readonly marks: readonly SwitchingMark[]; readonly marksText: string | null }> {
  if (path === undefined) return { marks: [], marksText: null };
  const marksText = await readTextFile(path, "the switching marks");
  const { readMarks } = await import("../importers/profile/marks.js");
  return { marks: readMarks(marksText, path, profile), marksText };
}

/** Now, or the moment in `SOURCE_DATE_EPOCH` so that a report can be made again byte for byte. */
export function momentOfMaking(): string {
  const fixed = process.env.SOURCE_DATE_EPOCH;
  const moment = fixed !== undefined && /^\d{1,11}$/.test(fixed) ? new Date(Number(fixed) * 1000) : new Date();
  return moment.toISOString();
}
