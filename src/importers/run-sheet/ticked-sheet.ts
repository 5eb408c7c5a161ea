import { z } from "zod";
import type { BusProfile, Tick } from "../../core/index.js";
import { checkOrder } from "../../core/index.js";
import { nearestWord } from "../profile/nearest-word.js";
import { fieldFault, type ProfileText, schemaFault } from "../profile/profile-fault.js";
import { parseYaml, plainValue } from "../profile/yaml-text.js";

const SHEET_FILE = {
  what: "ticked run sheet",
  giveIt: "give the YAML file that busdip plan --check wrote, with its ticks",
  fillIt: "write it anew with busdip plan --check and tick it",
};

const field = (expected: string) => ({ error: expected });
// A date or a time of day that YAML takes for text or for a number is kept as the person wrote it.
const blankable = z
  .union([z.string(), z.number(), z.null()], field("a short text, or nothing"))
  .transform((value) => (value === null ? null : String(value).trim().slice(0, 300)))
  .optional();
const FOUND = ["seen", "heard", "felt", "not"] as const;
const foundWords = field("seen, heard, felt or not, or leave it empty where nobody looked");

const sheetSchema = z.strictObject(
  {
    aircraft: blankable,
    bus: blankable,
    date: blankable,
    by: blankable,
    items: z.array(
      z.strictObject(
        {
          item: z.string(field("the id of a load of the profile")),
          found: z.union([z.enum(FOUND), z.null(), z.literal("")], foundWords).optional(),
          when: blankable,
          by: blankable,
          note: blankable,
        },
        field("one item's fields, such as { item: cabin-lights, found: seen }"),
      ),
      field("a list of items, each on a line that starts with a dash"),
    ),
  },
  field("the keys aircraft, bus, date, by and items"),
);

/** The ticks of a run sheet; items that nobody looked at are left out. */
export interface TickedSheet {
  readonly date: string | null;
  readonly by: string | null;
  readonly ticks: readonly Tick[];
}

/**
 * The ticked run sheet (`check.yaml`) in a text, its items checked against the profile.
 *
 * @throws InputError naming line and column, what was found and what to write instead.
 */
export function readTickedSheet(text: string, fileName: string, profile: BusProfile): TickedSheet {
  const source = parseYaml(text, fileName, SHEET_FILE);
  const found = plainValue(source);
  const parsed = sheetSchema.safeParse(found);
  if (!parsed.success) throw schemaFault(source, sheetSchema, parsed.error.issues, found);
  const { items, by, date } = parsed.data;
  refuseStrangers(source, items, found, profile);
  return {
    date: orNull(date),
    by: orNull(by),
    ticks: items.flatMap(({ item, found: tick, when, by: own, note }): Tick[] =>
      tick === undefined || tick === null || tick === ""
        ? []
        : [{ load: item, found: tick, when: orNull(when), by: orNull(own) ?? orNull(by), note: orNull(note) }],
    ),
  };
}

function orNull(text: string | null | undefined): string | null {
  return text === undefined || text === null || text === "" ? null : text;
}

function refuseStrangers(
  source: ProfileText,
  items: readonly { readonly item: string }[],
  found: unknown,
  profile: BusProfile,
): void {
  const ids = profile.loads.map(({ id }) => id);
  const seen = new Map<string, number>();
  items.forEach(({ item }, index) => {
    if (!ids.includes(item)) {
      const nearest = nearestWord(item, ids);
      const meant = nearest === null ? "" : `; did you mean '${nearest}'?`;
      throw fieldFault(source, ["items", index, "item"], found, `the id of a load of the profile${meant}`);
    }
    const earlier = seen.get(item);
    if (earlier !== undefined) {
      throw fieldFault(
        source,
        ["items", index, "item"],
        found,
        `each item once; items[${earlier}] is this one already`,
      );
    }
    seen.set(item, index);
  });
}

/** An empty run sheet of the profile's loads, in the order of the check, to be ticked by hand. */
export function blankSheet(profile: BusProfile): string {
  const lines = [
    "# Run sheet to be ticked. found: seen, heard, felt or not; leave it empty where nobody looked.",
    "# Items that the meter shows need no tick: busdip analyze judges them from the recording.",
    `aircraft: ${quoted(profile.aircraft)}`,
    `bus: ${quoted(profile.bus)}`,
    "date:",
    "by:",
    profile.loads.length === 0 ? "items: []" : "items:",
  ];
  for (const load of checkOrder(profile.loads)) {
    const how = { needle: "by the meter", seen: "look for", heard: "listen for" }[load.shows ?? "needle"];
    const words = load.lookFor === undefined ? how : `${how}: ${load.lookFor}`;
    lines.push(
      `  # ${oneLine(load.name ?? load.id)}, ${oneLine(words)}`,
      `  - item: ${quoted(load.id)}`,
      "    found:",
      "    when:",
      "    note:",
    );
  }
  return `${lines.join("\n")}\n`;
}

function quoted(text: string | undefined): string {
  return text === undefined ? "" : JSON.stringify(text);
}

function oneLine(text: string): string {
  return text.replace(/\s+/g, " ");
}
