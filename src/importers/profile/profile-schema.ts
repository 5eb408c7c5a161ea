import { z } from "zod";
import { CHEMISTRIES } from "../../core/index.js";

/** Says what a field should hold, in words that follow "write" in the sentence for the person. */
const field = (expected: string) => ({ error: expected });

const positive = (expected: string) => z.number(field(expected)).positive(field(expected));
const notNegative = (expected: string) => z.number(field(expected)).nonnegative(field(expected));

const label = z
  .string(field("text; put it in quotes if it looks like a number"))
  .trim()
  .min(1, field("text that is not empty"))
  .max(200, field("text of at most 200 characters"));

const loadId = z
  .string(field("a short id such as probe-heat; put it in quotes if it looks like a number"))
  .regex(/^[^\s,;"#]([^,;"\r\n]*[^\s,;"])?$/, field("a short id without commas, semicolons or quotes"))
  .max(80, field("an id of at most 80 characters"));

const uncertainMilliohm = z.strictObject(
  {
    value: notNegative("a resistance in milliohms, 0 or above").max(
      1e6,
      field("a resistance below 1,000,000 milliohms"),
    ),
    u: notNegative("its standard uncertainty in milliohms, 0 or above"),
  },
  field("a value with its standard uncertainty in milliohms, such as { value: 9.5, u: 1.5 }"),
);

const uncertainAmpere = z.strictObject(
  {
    value: notNegative("a current in amperes, 0 or above"),
    u: notNegative("its standard uncertainty in amperes, 0 or above"),
  },
  field("a value with its standard uncertainty in amperes, such as { value: 12, u: 1 }"),
);

const sentence = z
  .string(field("a short text; put it in quotes if it looks like a number"))
  .trim()
  .min(1, field("text that is not empty"))
  .max(300, field("text of at most 300 characters"));

const battery = z.strictObject(
  {
    id: label.optional(),
    chemistry: z.enum(CHEMISTRIES, field("lead-acid, ni-cd or li-ion")).optional(),
    cells: z
      .int(field("a whole number of cells, 1 or above"))
      .min(1, field("a whole number of cells, 1 or above"))
      .optional(),
    capacity_Ah: positive("a capacity in ampere-hours above 0").optional(),
    installed: z.iso.date(field("a calendar date such as 2026-03-02")).optional(),
    resistance_mOhm: uncertainMilliohm.optional(),
  },
  field("the battery's fields, such as { id: B-0417, chemistry: lead-acid, cells: 12, capacity_Ah: 44 }"),
);

const meter = z.strictObject(
  {
    full_scale_V: positive("the meter's full scale in volts, above 0").optional(),
    smallest_division_V: positive("the smallest scale division in volts, above 0").optional(),
    zero_V: z.number(field("the voltage at the scale's zero mark, a number of volts")).optional(),
    scale_rises: z.enum(["clockwise", "anticlockwise"], field("clockwise or anticlockwise")).optional(),
    lag_s: notNegative("the meter's time constant in seconds, 0 or above").optional(),
    friction_V: notNegative("how far friction holds the needle off the true voltage, 0 or above").optional(),
  },
  field("the meter's fields, such as { full_scale_V: 30, smallest_division_V: 1 }"),
);

const tolerance = notNegative("a tolerance in per cent, from 0 to below 100")
  .lt(100, field("a tolerance in per cent, from 0 to below 100"))
  .optional();

const ratedExample = field("{ power_W: 160, at_V: 28 } or { current_A: 5.7 }, each with tolerance_pct if it is known");
const rated = z.union(
  [
    z.strictObject({
      power_W: positive("the rated power in watts, above 0"),
      at_V: positive("the voltage of the rating in volts, above 0"),
      tolerance_pct: tolerance,
    }),
    z.strictObject({
      current_A: positive("the rated current in amperes, above 0"),
      tolerance_pct: tolerance,
    }),
  ],
  ratedExample,
);

const acceptableAmpere = positive(
  "a current in amperes above 0; a lowest acceptable current of 0 would pass a dead load",
);
const load = z.strictObject(
  {
    id: loadId,
    name: label.optional(),
    kind: z.enum(
      ["heater", "resistive", "constant-power", "constant-current"],
      field("heater, resistive, constant-power or constant-current"),
    ),
    rated: rated.optional(),
    accept_A: z
      .tuple(
        [acceptableAmpere, acceptableAmpere],
        field("the lowest and the highest acceptable current in amperes, such as [4.0, 7.5]"),
      )
      .optional(),
    reference: z.boolean(field("true or false")).optional(),
    shows: z.enum(["needle", "seen", "heard"], field("needle, seen or heard")).optional(),
    look_for: sentence.optional(),
    order: z.number(field("a number, the lowest first")).optional(),
    time_limit_s: positive("the longest time on in seconds, above 0").optional(),
    caution: sentence.optional(),
    after: z
      .union([loadId, z.array(loadId).max(100)], field("the id of the load that comes first, or a list of ids"))
      .optional(),
    bus: label.optional(),
    switch: label.optional(),
  },
  field("one load's fields, such as { id: probe-heat, kind: heater, accept_A: [4.0, 7.5] }"),
);

/** The profile as it stands in the YAML file: exact keys, units in the names, milliohms and per cent. */
export const profileSchema = z
  .strictObject(
    {
      aircraft: label.optional(),
      bus: label.optional(),
      battery: battery.optional(),
      path_resistance_mOhm: uncertainMilliohm.optional(),
      meter: meter.optional(),
      required_endurance_min: positive("the required endurance in minutes, above 0").optional(),
      bus_current_A: uncertainAmpere.optional(),
      loads: z
        .array(load, field("a list of loads, each on a line that starts with a dash"))
        .max(1000, field("at most 1000 loads"))
        .optional(),
    },
    field("the profile's keys, such as battery: and loads:"),
  )
  .meta({ title: "busdip profile", description: "What is known about an aircraft's bus before any reading is taken." });

export type ProfileFile = z.infer<typeof profileSchema>;
