import { z } from "zod";

/**
 * The published form of a result, `busdip-result/1`.
 *
 * Additional fields: a writer of this version may add fields, and a reader must ignore fields it does not know; so
 * every object is open. A field is never renamed, and never changes its unit or meaning, without a new number.
 */
export const RESULT_SCHEMA_NAME = "busdip-result/1";

const measured = z
  .looseObject({
    value: z.number(),
    u: z.number().nonnegative().describe("Standard uncertainty, same unit as the value"),
    low: z.number().describe("Lower bound of the coverage interval"),
    high: z.number().describe("Upper bound of the coverage interval"),
    coverage: z.number().gt(0).lt(1).describe("Probability of the coverage interval"),
    route: z.string().describe("How the value came about"),
  })
  .describe("A quantity with its uncertainty; the unit stands in the name of the field");

const resistanceAt = measured.extend({
  atSeconds: z.number().nonnegative().describe("Time after the step; only values at equal times compare"),
});

const note = z.looseObject({ code: z.string(), text: z.string().describe("The note as a sentence for people") });

const dip = z.looseObject({
  onset_s: z.number(),
  release_s: z.number(),
  duration_s: z.number(),
  depth_V: z.number().describe("Reference voltage less residual voltage"),
  u_V: z.number().describe("Standard uncertainty of the depth"),
  low_V: z.number(),
  high_V: z.number(),
  coverage: z.number(),
  route: z.string(),
  residual_V: z.number().nullable(),
  load: z.string().nullable(),
  current_A: measured.nullable(),
  resistance_mOhm: resistanceAt.nullable(),
  resistances_mOhm: z.array(resistanceAt).describe("The same at each stated time after the step"),
});

const load = z.looseObject({
  id: z.string(),
  name: z.string(),
  verdict: z.enum(["responded", "no response", "undecided"]),
  because: z.string().describe("Code of the reason of the verdict"),
  reason: z.string().describe("That reason as a sentence"),
  pValue: z.number().min(0).max(1).nullable().describe("From noise alone, adjusted over the loads (Holm)"),
  switchings: z.int().nonnegative(),
  depth_V: z.number().nullable(),
  u_V: z.number().nullable(),
  low_V: z.number().nullable(),
  high_V: z.number().nullable(),
  coverage: z.number().nullable(),
  coldDepth_V: measured.nullable().describe("Right after switching on, where the load is seen to settle"),
  expectedDepth_V: z.number().nullable().describe("Dip of the lowest acceptable current"),
  criticalDepth_V: z.number().nullable(),
  minimumDetectableDepth_V: z.number().nullable(),
  moreSwitchings: z.int().positive().nullable(),
  current_A: measured.nullable(),
  coldCurrent_A: measured.nullable(),
  reference: z.boolean(),
});

const budget = z.looseObject({
  quantity: z.string(),
  load: z.string().nullable(),
  unit: z.string(),
  value: z.number().nullable(),
  u: z.number().nullable(),
  method: z.string(),
  rows: z.array(
    z.looseObject({
      source: z.string(),
      unit: z.string(),
      value: z.number().nullable(),
      u: z.number().nullable(),
      sensitivity: z.number().nullable(),
      share: z.number().nullable().describe("Share of the variance, 0 to 1"),
    }),
  ),
});

const busItem = z.looseObject({
  id: z.string(),
  name: z.string(),
  bus: z.string().nullable(),
  shows: z.enum(["needle", "seen", "heard"]).describe("What was to show it"),
  standing: z.enum(["answered", "silent", "contradiction", "open", "no-evidence"]),
  evidence: z.string().describe("What the meter told and what a person found, as a sentence"),
  found: z.enum(["seen", "heard", "felt", "not"]).nullable().describe("As ticked"),
  by: z.string().nullable(),
  when: z.string().nullable(),
  note: z.string().nullable(),
});

const statedText = z.looseObject({
  file: z.string().describe("Name of this file where a report carries it"),
  sha256: z.string().describe("Of the text as UTF-8"),
  text: z.string(),
});

const inputs = z
  .looseObject({
    recording: z
      .looseObject({
        file: z.string(),
        sha256: z.string(),
        bytes: z.int().nonnegative(),
        clockResolution_s: z.number().positive().optional().describe("What the log's times could tell apart"),
      })
      .describe("The readings as used, in the canonical form; not the log they came from"),
    profile: statedText.nullable(),
    marks: statedText.nullable(),
    sheet: statedText.optional().describe("The ticked run sheet, where one was given"),
    pictures: z
      .looseObject({ file: z.string(), sha256: z.string() })
      .optional()
      .describe(
        "Pictures of the film that the readings come from, carried by the report; SHA-256 of the text as UTF-8",
      ),
    options: z.looseObject({
      falseAlarmRate: z.number(),
      power: z.number(),
      markUncertainty_s: z.number(),
      cadence: z
        .looseObject({ on_s: z.number(), off_s: z.number(), switchings: z.int().nullable() })
        .nullable()
        .optional()
        .describe("Rhythm of the switching where no times were marked"),
      temperature_C: z
        .looseObject({ value: z.number(), u: z.number() })
        .optional()
        .describe("Temperature of the battery as told"),
      stateOfCharge: z
        .looseObject({ value: z.number(), u: z.number() })
        .optional()
        .describe("State of charge as told, 0 to 1"),
      seed: z.int(),
    }),
    judgement: z.looseObject({ sha256: z.string() }).describe("Of the program files that computed the result"),
    log: z.record(z.string(), z.unknown()).nullable().describe("How the log was read, as the importer's options"),
    entryTemplate: z.string().nullable().describe("The shop's own form of the draft entry"),
  })
  .describe("Everything from which the result can be computed again");

export const resultSchema = z.looseObject({
  schema: z.literal(RESULT_SCHEMA_NAME),
  generator: z.looseObject({ name: z.literal("busdip"), version: z.string(), madeAt: z.string() }),
  recording: z.looseObject({
    source: z.string(),
    sha256: z.string(),
    samples: z.int().nonnegative(),
    duration_s: z.number().nonnegative(),
    sampleRate_Hz: z.number().nullable().describe("Median; null where fewer than two readings stand"),
    gaps: z.array(z.looseObject({ start_s: z.number(), end_s: z.number() })),
    lowest_V: z.number().nullable(),
    highest_V: z.number().nullable(),
    understood: z.array(z.string()).describe("What was understood of the file"),
  }),
  noise: z.looseObject({
    sigma_V: z.number().nullable(),
    ar1: z.number().nullable(),
    quantum_V: z.number().nullable().describe("Display step; null where the readings show none"),
  }),
  detection: z.looseObject({
    mode: z.enum(["marked", "current", "searched"]),
    falseAlarmRate: z.number().describe("Per recording"),
    power: z.number(),
    criticalDepth_V: z.number().nullable(),
    minimumDetectableDepth_V: z.number().nullable(),
    limitsOf: z
      .looseObject({ switchings: z.int().positive(), on_s: z.number(), off_s: z.number() })
      .optional()
      .describe("The switchings that both limits are told of, where their times were searched for"),
  }),
  dips: z.array(dip),
  loads: z.array(load),
  battery: z.looseObject({
    openCircuit_V: measured.nullable(),
    resistance_mOhm: resistanceAt.nullable().describe("Source resistance seen at the meter"),
    internal_mOhm: resistanceAt.nullable().describe("Source resistance less path resistance"),
    normalized_mOhm: resistanceAt.nullable(),
    polarization: z
      .looseObject({
        ohmic_mOhm: measured.nullable(),
        pairs: z.array(z.looseObject({ resistance_mOhm: measured.nullable(), timeConstant_s: measured.nullable() })),
      })
      .optional()
      .describe("Ohmic part of the source resistance and resistor-capacitor pairs, the faster first"),
    twoCurrent: z
      .array(
        z.looseObject({
          standard: z.enum(["IEC 60896-21", "IEC 61960-3"]),
          first_A: measured.nullable(),
          second_A: measured.nullable(),
          levelsAsStandard: z.boolean().nullable().describe("null where the capacity is not known"),
          resistance_mOhm: measured.nullable(),
          shortCircuit_A: measured.nullable().describe("Of IEC 60896-21 alone"),
        }),
      )
      .optional()
      .describe("From two discharge currents, by the rules of the standards; absent where the recording has none"),
    endurance_min: measured.nullable(),
    requiredEndurance_min: z.number().nullable(),
  }),
  budgets: z.array(budget),
  assumptions: z.array(note),
  cautions: z.array(note),
  warnings: z.array(note),
  wholeBus: z
    .looseObject({ items: z.array(busItem), answered: z.int().nonnegative(), withoutEvidence: z.int().nonnegative() })
    .optional()
    .describe("Every item of the bus by recording and ticked run sheet; absent where no sheet was ticked"),
  inputs: inputs.optional(),
  seal: z
    .string()
    .optional()
    .describe("SHA-256 of the file while these 64 places are zeros; shows accidents, and is nobody's signature"),
});

/** A result as `result.json` holds it. */
export type ResultJson = z.infer<typeof resultSchema>;

/** The same contract as a JSON Schema document (draft 2020-12), as published beside this file. */
export function resultJsonSchema(): object {
  return {
    ...z.toJSONSchema(resultSchema, { io: "output" }),
    title: RESULT_SCHEMA_NAME,
    description:
      "Result of one analysed recording. Units stand in the names of the fields. What cannot be known is null, with the reason in assumptions. Fields not named here may be added and must be ignored by a reader that does not know them.",
  };
}
