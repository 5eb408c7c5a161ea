import type {
  Analysis,
  Assumption,
  Dip,
  LimitsOf,
  LoadAnswer,
  Quantity,
  ResistanceAt,
  SourceModel,
  TwoCurrentFigure,
  Unit,
  UnknownReason,
  WholeBus,
} from "../core/index.js";
import { namesOf } from "./label-text.js";
import { assumptionText, cautionText, unknownText, warningText } from "./messages.js";
import { evidenceText } from "./plan/whole-bus-words.js";
import type { ReportContext } from "./report-context.js";
import { RESULT_SCHEMA_NAME, type ResultJson, resultSchema } from "./result-schema.js";
import { verdictReasonText } from "./verdict-words.js";

/** A result read back, or what is wrong with the text and how to mend it. */
export type ResultReading =
  | { readonly ok: true; readonly result: ResultJson }
  | { readonly ok: false; readonly problem: string; readonly remedy: string };

type Measured = NonNullable<ResultJson["battery"]["openCircuit_V"]>;
type MeasuredAt = NonNullable<ResultJson["battery"]["resistance_mOhm"]>;
type Note = ResultJson["assumptions"][number];
type Missing = Pick<Extract<Assumption, { code: "not-identifiable" }>, "what" | "load">;

const MILLI = 1e3;

/** The analysis as the object of `result.json`, contract `busdip-result/1`; every number finite or null. */
export function toResultJson(analysis: Analysis, context: ReportContext): ResultJson {
  const nameOf = namesOf(analysis.loads);
  const { recording, noise, detection, battery } = analysis;
  return {
    schema: RESULT_SCHEMA_NAME,
    generator: { name: "busdip", version: context.softwareVersion, madeAt: context.madeAt },
    recording: {
      source: context.source,
      sha256: context.sha256,
      samples: recording.sampleCount,
      duration_s: finite(recording.durationS) ?? 0,
      sampleRate_Hz: finite(recording.sampleRateHz),
      gaps: recording.gaps.map((gap) => ({ start_s: gap.startS, end_s: gap.endS })),
      lowest_V: finite(recording.lowestV),
      highest_V: finite(recording.highestV),
      understood: [...context.understood],
    },
    noise: { sigma_V: finite(noise.sigmaV), ar1: finite(noise.ar1), quantum_V: finite(noise.quantumV) },
    detection: {
      mode: detection.mode,
      falseAlarmRate: detection.falseAlarmRate,
      power: detection.power,
      criticalDepth_V: finite(detection.criticalDepthV),
      minimumDetectableDepth_V: finite(detection.minimumDetectableDepthV),
      ...(detection.limitsOf === null ? {} : { limitsOf: limitsOfJson(detection.limitsOf) }),
    },
    dips: analysis.dips.map(dipJson),
    loads: analysis.loads.map(loadJson),
    battery: {
      openCircuit_V: measured(battery.openCircuit),
      resistance_mOhm: milliohmsAt(battery.source),
      internal_mOhm: milliohmsAt(battery.internal),
      normalized_mOhm: milliohmsAt(battery.normalized),
      ...(battery.model === null ? {} : { polarization: polarizationJson(battery.model) }),
      ...twoCurrentJson(battery.twoCurrent ?? []),
      endurance_min: measured(battery.endurance),
      requiredEndurance_min: finite(battery.requiredEnduranceMin),
    },
    budgets: analysis.budgets.map((budget) => ({
      ...budget,
      value: finite(budget.value),
      u: finite(budget.u),
      rows: budget.rows.map((row) => ({
        ...row,
        value: finite(row.value),
        u: finite(row.u),
        sensitivity: finite(row.sensitivity),
        share: finite(row.share),
      })),
    })),
    ...(context.wholeBus === undefined ? {} : { wholeBus: wholeBusJson(context.wholeBus) }),
    assumptions: [
      ...analysis.assumptions.map((note) => ({ ...note, text: assumptionText(note, nameOf) })),
      ...unexplained(analysis).map((missing) => unexplainedNote(missing, nameOf)),
    ],
    cautions: analysis.cautions.map((code) => ({ code, text: cautionText(code) })),
    warnings: analysis.warnings.map((note) => ({ ...note, text: warningText(note, nameOf) })),
  };
}

/** Reads the text of a `result.json`; fields it does not know are kept. */
export function readResultJson(text: string): ResultReading {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    return { ok: false, problem: "this is not JSON", remedy: "give the result.json that busdip wrote" };
  }
  const parsed = resultSchema.safeParse(data);
  if (parsed.success) return { ok: true, result: parsed.data };
  const schema = typeof data === "object" && data !== null && "schema" in data ? data.schema : undefined;
  if (schema !== RESULT_SCHEMA_NAME) {
    return {
      ok: false,
      problem: `expected "schema": "${RESULT_SCHEMA_NAME}", found ${schema === undefined ? "no schema" : JSON.stringify(schema)}`,
      remedy: "give a result.json that this version of busdip can read",
    };
  }
  const issue = parsed.error.issues[0]!;
  return {
    ok: false,
    problem: `at ${issue.path.map(String).join(".") || "the top"}: ${issue.message}`,
    remedy: "the file was changed by hand or cut short; analyse the recording again",
  };
}

function dipJson(dip: Dip): ResultJson["dips"][number] {
  return {
    onset_s: dip.onsetS,
    release_s: dip.releaseS,
    duration_s: dip.durationS,
    depth_V: dip.depth.value,
    u_V: dip.depth.u,
    low_V: dip.depth.low,
    high_V: dip.depth.high,
    coverage: dip.depth.coverage,
    route: dip.depth.route,
    residual_V: finite(dip.residualV),
    load: dip.load,
    current_A: measured(dip.current),
    resistance_mOhm: milliohmsAt(dip.resistance),
    resistances_mOhm: dip.resistances.map(milliohmsAt).filter((one) => one !== null),
  };
}

function loadJson(load: LoadAnswer): ResultJson["loads"][number] {
  const depth = measured(load.depth);
  return {
    id: load.id,
    name: load.name,
    verdict: load.verdict,
    because: load.because,
    reason: verdictReasonText(load),
    pValue: finite(load.pValue),
    switchings: load.switchingCount,
    depth_V: depth?.value ?? null,
    u_V: depth?.u ?? null,
    low_V: depth?.low ?? null,
    high_V: depth?.high ?? null,
    coverage: depth?.coverage ?? null,
    coldDepth_V: measured(load.coldDepth),
    expectedDepth_V: finite(load.expectedDepthV),
    criticalDepth_V: finite(load.criticalDepthV),
    minimumDetectableDepth_V: finite(load.minimumDetectableDepthV),
    moreSwitchings: finite(load.moreSwitchings),
    current_A: measured(load.current),
    coldCurrent_A: measured(load.coldCurrent),
    reference: load.reference,
  };
}

function limitsOfJson({ switchingCount, onS, offS }: LimitsOf) {
  return { switchings: switchingCount, on_s: onS, off_s: offS };
}

function polarizationJson({ ohmic, pairs }: SourceModel) {
  return {
    ohmic_mOhm: measured(ohmic, MILLI),
    pairs: pairs.map(({ resistance, timeConstant }) => ({
      resistance_mOhm: measured(resistance, MILLI),
      timeConstant_s: measured(timeConstant),
    })),
  };
}

function twoCurrentJson(figures: readonly TwoCurrentFigure[]): Pick<ResultJson["battery"], "twoCurrent"> {
  if (figures.length === 0) return {};
  return {
    twoCurrent: figures.map((one) => ({
      standard: one.standard,
      first_A: measured(one.firstA),
      second_A: measured(one.secondA),
      levelsAsStandard: one.levelsAsStandard,
      resistance_mOhm: measured(one.resistance, MILLI),
      shortCircuit_A: measured(one.shortCircuit),
    })),
  };
}

/** Quantities that are null in the result although no assumption of the analysis says why. */
function unexplained(analysis: Analysis): readonly Missing[] {
  const { openCircuit, source, internal, normalized, endurance } = analysis.battery;
  const missing: Missing[] = analysis.loads.flatMap((load) => [
    ...(measured(load.depth) === null ? [{ what: "depth" as const, load: load.id }] : []),
    ...(measured(load.current) === null ? [{ what: "current" as const, load: load.id }] : []),
  ]);
  if (measured(openCircuit) === null) missing.push({ what: "open-circuit", load: null });
  if (milliohmsAt(source) === null) missing.push({ what: "resistance", load: null });
  if (milliohmsAt(internal) === null) missing.push({ what: "internal-resistance", load: null });
  if (measured(endurance) === null) missing.push({ what: "endurance", load: null });
  if (milliohmsAt(normalized) === null) missing.push({ what: "normalized", load: null });
  const explains = (note: Assumption, gap: Missing) =>
    note.code === "not-identifiable" && note.what === gap.what && (note.load === null || note.load === gap.load);
  return missing.filter((gap) => !analysis.assumptions.some((note) => explains(note, gap)));
}

function unexplainedNote(missing: Missing, nameOf: (id: string) => string): Note {
  const whose = missing.load === null ? "" : ` of ${nameOf(missing.load)}`;
  const why: UnknownReason | "not-stated" = missing.what === "normalized" ? "no-temperature" : "not-stated";
  const reason = why === "no-temperature" ? "no battery temperature was given" : "this recording does not tell it";
  return {
    code: "not-identifiable",
    ...missing,
    why,
    text: `${unknownText(missing.what)}${whose} is not identifiable: ${reason}.`,
  };
}

function measured(quantity: Quantity<Unit> | null, factor = 1): Measured | null {
  if (quantity === null) return null;
  const { value, u, low, high, coverage, route } = quantity;
  if (![value, u, low, high].every(Number.isFinite)) return null;
  return { value: value * factor, u: u * factor, low: low * factor, high: high * factor, coverage, route };
}

function milliohmsAt(at: ResistanceAt | null): MeasuredAt | null {
  const resistance = at === null ? null : measured(at.resistance, MILLI);
  return at === null || resistance === null ? null : { ...resistance, atSeconds: at.atS };
}

function finite(value: number | null): number | null {
  return value !== null && Number.isFinite(value) ? value : null;
}

function wholeBusJson({ items, answeredCount, withoutEvidenceCount }: WholeBus): NonNullable<ResultJson["wholeBus"]> {
  return {
    items: items.map((item) => ({
      id: item.id,
      name: item.name,
      bus: item.bus,
      shows: item.shows,
      standing: item.standing,
      evidence: evidenceText(item),
      found: item.tick?.found ?? null,
      by: item.tick?.by ?? null,
      when: item.tick?.when ?? null,
      note: item.tick?.note ?? null,
    })),
    answered: answeredCount,
    withoutEvidence: withoutEvidenceCount,
  };
}
