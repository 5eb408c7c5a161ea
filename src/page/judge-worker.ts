import { analyze, type Recording } from "../core/index.js";
import {
  type ChosenLogReading,
  InputError,
  readChosenLog,
  readMarks,
  readProfile,
  refuseUnusableMarks,
} from "../importers/browser.js";
import { readRecordingCsv } from "../report/recording-csv.js";
import { beatLoads } from "./beat-plan.js";
import type { ChosenRecording, JudgeAnswer, Judged, JudgeRequest, LogLook } from "./judge-messages.js";

/** Enough for a stretch of the drawing to be shown nearer. */
const TRACE_STRETCHES = 7200;

const answer = (message: JudgeAnswer): void => postMessage(message);

addEventListener("message", ({ data }: MessageEvent<JudgeRequest>) => {
  work(data).catch((fault: unknown) => {
    if (fault instanceof InputError) answer({ kind: "refused", sentence: fault.message });
    else answer({ kind: "fault", message: fault instanceof Error ? fault.message : String(fault) });
  });
});

async function work(request: JudgeRequest): Promise<void> {
  if (request.kind === "plan") {
    answer({ kind: "planned", loads: beatLoads(request.profileText, request.switchingCount) });
    return;
  }
  answer({ kind: "stage", stage: "reading" });
  if (request.kind === "look") {
    const reading = await chosenReadings(request);
    answer({ kind: "looked", look: look(reading.recording, reading) });
    return;
  }
  answer({ kind: "judged", judged: await judge(request) });
}

/** The log, or the readings of a clip to the very doubles that were read from it. */
async function chosenReadings(request: ChosenRecording): Promise<ChosenLogReading> {
  const { film, file, name } = request;
  if (film === null) return readChosenLog(file, name, request.logOptions);
  const kept = readRecordingCsv(await file.text());
  if (!kept.ok) throw new InputError({ file: name, problem: kept.problem, remedy: "read the clip again" });
  return {
    recording: kept.recording,
    sha256: film.sha256,
    source: film.name,
    understood: film.facts.map((fact) => `Film clip: ${fact}.`),
    startEpochS: null,
    description: {},
  };
}

/** The same steps in the same order as the command line takes them, so that both come to the same result. */
async function judge(request: Extract<JudgeRequest, { kind: "judge" }>): Promise<Judged> {
  const { profileText, marksText, markUncertaintyS } = request;
  const profile = profileText === null ? null : readProfile(profileText, "the profile");
  const marks = marksText === null ? [] : readMarks(marksText, "the marks", profile);
  const reading = await chosenReadings(request);
  refuseUnusableMarks(marks, reading.recording);
  answer({ kind: "stage", stage: "judging" });
  const options = { falseAlarmRate: 0.01, power: 0.95, markUncertaintyS, seed: 1 };
  const analysis = analyze(reading.recording, { marks, profile, ...options });
  return {
    recording: reading.recording,
    analysis,
    startEpochS: reading.startEpochS,
    context: {
      source: reading.source,
      sha256: reading.sha256,
      profile,
      ...(profileText === null ? {} : { profileText }),
      understood: reading.understood,
      softwareVersion: __SOFTWARE_VERSION__,
      madeAt: new Date().toISOString(),
    },
    given: {
      profileText,
      marksText,
      options,
      judgementSha256: __JUDGEMENT_SHA256__,
      logOptions: { ...reading.description },
    },
    film: request.film,
  };
}

function look(
  { timesS, voltagesV }: Recording,
  facts: { readonly startEpochS: number | null; readonly understood: readonly string[] },
): LogLook {
  const startS = timesS[0]!;
  const endS = timesS.at(-1)!;
  const lowV = new Float64Array(TRACE_STRETCHES).fill(Number.NaN);
  const highV = new Float64Array(TRACE_STRETCHES).fill(Number.NaN);
  timesS.forEach((timeS, i) => {
    const at = Math.min(TRACE_STRETCHES - 1, Math.floor((TRACE_STRETCHES * (timeS - startS)) / (endS - startS)));
    const volts = voltagesV[i]!;
    if (!(lowV[at]! <= volts)) lowV[at] = volts;
    if (!(highV[at]! >= volts)) highV[at] = volts;
  });
  const present = (values: Float64Array) => values.filter((value) => !Number.isNaN(value));
  return {
    readingCount: timesS.length,
    startS,
    endS,
    lowestV: present(lowV).reduce((least, value) => Math.min(least, value)),
    highestV: present(highV).reduce((most, value) => Math.max(most, value)),
    startEpochS: facts.startEpochS,
    understood: facts.understood,
    trace: { lowV, highV },
  };
}
