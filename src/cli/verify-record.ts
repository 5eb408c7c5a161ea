import { analyze, type BusProfile, type SwitchingMark, wholeBus } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import { readMarks } from "../importers/profile/marks.js";
import { readProfile } from "../importers/profile/profile.js";
import { readTickedSheet } from "../importers/run-sheet/ticked-sheet.js";
import { type EmbeddedReading, type RecordData, readEmbeddedHtml, readEmbeddedHtmls } from "../report/embedded-data.js";
import { readEmbeddedPdf, readEmbeddedPdfs } from "../report/pdf-reading.js";
import { cadenceOf, type RecordInputs, type StatedInputs, withStatedClock } from "../report/record-inputs.js";
import type { ReportContext } from "../report/report-context.js";
import { readResultJson, toResultJson } from "../report/result-json.js";
import type { ResultJson } from "../report/result-schema.js";
import { readSeal, type SealedKind } from "../report/seal.js";
import { readEmbeddedTrend, readEmbeddedTrendPdf } from "../report/trend-record.js";
import { type FoundInputs, findInputs } from "./verify-inputs.js";
import { type CheckLine, type CheckMeans, isMaker, softwareLines } from "./verify-line.js";
import { isOtherJson, noRecord } from "./verify-no-record.js";
import { type Claim, compareResults, numberLines } from "./verify-numbers.js";
import { type Redrawing, redrawLines, redrawSeveral } from "./verify-redraw.js";

/** What checking a record found. */
export interface RecordCheck {
  readonly madeBy: { readonly version: string; readonly madeAt: string } | null;
  readonly lines: readonly CheckLine[];
  readonly claims: readonly Claim[];
  readonly files: ReadonlyMap<string, string>;
  /**
   * The record computed again, or all of several in one file; null where that could not be done, or where the result does
   * not state its inputs.
   */
  readonly again: readonly Redrawing[] | null;
}

/**
 * Takes a record apart, computes its result again, draws its text again, and says of each part whether it holds.
 *
 * @throws InputError where the file is no record, or a file given beside it cannot be read.
 */
export async function checkRecord(name: string, bytes: Uint8Array, means: CheckMeans): Promise<RecordCheck> {
  const kind = await kindOf(name, bytes);
  const seal = sealLine(bytes, kind);
  if (kind !== "json") {
    const trend = kind === "pdf" ? readEmbeddedTrendPdf(bytes) : readEmbeddedTrend(new TextDecoder().decode(bytes));
    const { checkTrend } = await import("./verify-trend.js");
    if (trend !== null) return await checkTrend(kind, bytes, seal, trend, means);
  }
  const several = severalIn(kind, bytes);
  if (kind !== "json" && several.length > 0) return await checkSeveral(kind, bytes, several, { seal, means });
  const found = await checkCarried(kind, embeddedIn(kind, bytes), means);
  const [again] = found.again ?? [];
  const redrawn = kind === "json" || again === undefined ? [] : await redrawLines(kind, bytes, again, means);
  return { ...found, lines: [seal, ...found.lines, ...redrawn] };
}

/** Several records in one file: each by itself, then the words and figures of all. */
async function checkSeveral(
  kind: "html" | "pdf",
  bytes: Uint8Array,
  several: readonly EmbeddedReading[],
  { seal, means }: { readonly seal: CheckLine; readonly means: CheckMeans },
): Promise<RecordCheck> {
  const checks: RecordCheck[] = [];
  for (const embedded of several) checks.push(await checkCarried(kind, embedded, means));
  const numbered = <T>(list: (check: RecordCheck) => readonly T[], name: (one: T, number: number) => T): T[] =>
    checks.flatMap((check, i) => list(check).map((one) => name(one, i + 1)));
  const lines = [
    seal,
    ...numbered(
      (check) => check.lines,
      (line, number) => ({ ...line, what: `${number}: ${line.what}` }),
    ),
  ];
  const again = checks.flatMap((check) => check.again ?? []);
  const whole = again.length === checks.length;
  if (whole) lines.push(...(await redrawSeveral(kind, bytes, again, means)));
  return {
    madeBy: checks.find((check) => check.madeBy !== null)?.madeBy ?? null,
    lines,
    claims: numbered(
      (check) => check.claims,
      (claim, number) => ({ ...claim, place: `${number}: ${claim.place}` }),
    ),
    files: new Map(
      numbered(
        (check) => [...check.files],
        ([name, text], number) => [`${number}-${name}`, text] as [string, string],
      ),
    ),
    again: whole ? again : null,
  };
}

/** Takes the carried files of one record, and computes its result again. */
async function checkCarried(kind: SealedKind, embedded: EmbeddedReading, means: CheckMeans): Promise<RecordCheck> {
  const lines: CheckLine[] = [];
  for (const [part, why] of embedded.damaged) lines.push({ what: part, state: "changed", detail: why });

  const resultText = embedded.files.get("result.json");
  const reading = resultText === undefined ? null : readResultJson(resultText);
  if (reading === null || !reading.ok) {
    if (reading !== null) lines.push({ what: "result.json", state: "changed", detail: reading.problem });
    return { madeBy: null, lines, claims: [], files: embedded.files, again: null };
  }
  const { result } = reading;
  const madeBy = { version: result.generator.version, madeAt: result.generator.madeAt };
  if (kind !== "json") lines.push(...resultSealLines(resultText!));

  const inputs = await findInputs(kind, result, embedded, means);
  lines.push(...inputs.lines);
  if (inputs.recording === null) return { madeBy, lines, claims: [], files: embedded.files, again: null };

  const again = computeAgain(result, inputs, means.analyze ?? analyze);
  if (!again.ok) {
    lines.push({ what: "result", state: "changed", detail: again.why });
    return { madeBy, lines, claims: [], files: embedded.files, again: null };
  }
  const claims = compareResults(result, JSON.parse(JSON.stringify(toResultJson(again.analysis, again.context))));
  const stated = result.inputs as StatedInputs | undefined;
  const maker = { version: result.generator.version, judgementSha256: stated?.judgement.sha256 };
  lines.push(...softwareLines(maker, means), ...numberLines(claims, isMaker(maker, means)));
  if (result.inputs === undefined) return { madeBy, lines, claims, files: embedded.files, again: null };
  const files = new Map(embedded.files);
  if (inputs.readingsText !== null) files.set("recording.csv", inputs.readingsText);
  const record: RecordData = {
    inputs: redrawnInputs(result.inputs as StatedInputs, files),
    // The text's own order of fields, which the schema's reader does not keep.
    result: JSON.parse(resultText!) as ResultJson,
    resultText: resultText!,
  };
  return { madeBy, lines, claims, files: embedded.files, again: [{ ...again, record }] };
}

function severalIn(kind: SealedKind, bytes: Uint8Array): readonly EmbeddedReading[] {
  if (kind === "pdf") return readEmbeddedPdfs(bytes);
  return kind === "html" ? readEmbeddedHtmls(new TextDecoder().decode(bytes)) : [];
}

function embeddedIn(kind: SealedKind, bytes: Uint8Array): EmbeddedReading {
  if (kind === "pdf") return readEmbeddedPdf(bytes);
  const text = new TextDecoder().decode(bytes);
  return kind === "html" ? readEmbeddedHtml(text) : { files: new Map([["result.json", text]]), damaged: new Map() };
}

async function kindOf(name: string, bytes: Uint8Array): Promise<SealedKind> {
  if (readSeal(bytes, "html") !== null) return "html";
  if (readSeal(bytes, "pdf") !== null) return "pdf";
  const head = new TextDecoder().decode(bytes.subarray(0, 200)).trimStart();
  if (/^(<!doctype html|%PDF)/i.test(head)) {
    throw new InputError({
      file: name,
      problem: "this carries no seal, so it is no record of busdip or was damaged",
      remedy: "give a report.html, report.pdf or result.json that busdip wrote",
    });
  }
  if (head.startsWith("{") && !isOtherJson(head)) return "json";
  throw await noRecord(name, bytes);
}

function sealLine(bytes: Uint8Array, kind: SealedKind): CheckLine {
  const seal = readSeal(bytes, kind);
  if (seal === null) return { what: "seal", state: "not checked", detail: "the file carries none" };
  return seal.found === seal.due
    ? { what: "seal", state: "holds", detail: "every byte is as it was written" }
    : { what: "seal", state: "changed", detail: "the file is not as it was written, byte for byte" };
}

function resultSealLines(resultText: string): CheckLine[] {
  const seal = readSeal(new TextEncoder().encode(resultText), "json");
  if (seal === null) return [{ what: "result.json", state: "changed", detail: "the carried result has no seal" }];
  return seal.found === seal.due
    ? []
    : [{ what: "result.json", state: "changed", detail: "the carried result is not as it was written" }];
}

type Computed =
  | { readonly ok: true; readonly analysis: ReturnType<typeof analyze>; readonly context: ReportContext }
  | { readonly ok: false; readonly why: string };

function computeAgain(result: ResultJson, inputs: FoundInputs, judge: typeof analyze): Computed {
  const { recording, profileText, marksText, sheetText } = inputs;
  const stated = result.inputs as StatedInputs | undefined;
  try {
    const profile: BusProfile | null = profileText === null ? null : readProfile(profileText, "profile.yaml");
    const marks: SwitchingMark[] = marksText === null ? [] : readMarks(marksText, "marks.csv", profile);
    const analysis = judge(withStatedClock(recording!, stated), {
      marks,
      profile,
      falseAlarmRate: stated?.options.falseAlarmRate ?? result.detection.falseAlarmRate,
      power: stated?.options.power ?? result.detection.power,
      ...(stated === undefined
        ? {}
        : {
            markUncertaintyS: stated.options.markUncertainty_s,
            cadence: cadenceOf(stated.options.cadence),
            temperatureC: stated.options.temperature_C ?? null,
            stateOfCharge: stated.options.stateOfCharge ?? null,
            seed: stated.options.seed,
          }),
    });
    const context: ReportContext = {
      source: result.recording.source,
      sha256: result.recording.sha256,
      profile,
      ...(profileText === null ? {} : { profileText }),
      understood: result.recording.understood,
      softwareVersion: result.generator.version,
      madeAt: result.generator.madeAt,
      ...(sheetText === null || profile === null
        ? {}
        : { wholeBus: wholeBus(profile, analysis, readTickedSheet(sheetText, "check.yaml", profile).ticks) }),
    };
    return { ok: true, analysis, context };
  } catch (error) {
    if (error instanceof InputError || error instanceof RangeError) {
      return { ok: false, why: `it cannot be computed again: ${error.message}` };
    }
    throw error;
  }
}

function redrawnInputs(stated: StatedInputs, files: EmbeddedReading["files"]): RecordInputs {
  const { recording, options } = stated;
  return {
    profileText: stated.profile?.text ?? null,
    marksText: stated.marks?.text ?? null,
    sheetText: stated.sheet?.text ?? null,
    picturesText: files.get("pictures.json") ?? null,
    options: {
      falseAlarmRate: options.falseAlarmRate,
      power: options.power,
      markUncertaintyS: options.markUncertainty_s,
      cadence: cadenceOf(options.cadence),
      temperatureC: options.temperature_C ?? null,
      stateOfCharge: options.stateOfCharge ?? null,
      seed: options.seed,
    },
    ...(stated.log === null ? {} : { logOptions: stated.log }),
    judgementSha256: stated.judgement.sha256,
    entryTemplate: stated.entryTemplate,
    recordingFile: {
      sha256: recording.sha256,
      bytes: recording.bytes,
      text: files.get("recording.csv") ?? null,
      ...(recording.clockResolution_s === undefined ? {} : { clockResolutionS: recording.clockResolution_s }),
    },
  };
}
