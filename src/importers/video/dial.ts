import { stringify } from "yaml";
import { z } from "zod";
import { InputError } from "../input-error.js";
import type { ProfileText } from "../profile/profile-fault.js";
import { parseYaml, plainValue } from "../profile/yaml-text.js";

/** What a person pointed out on one still; pixels of the upright picture, x right, y down. */
export interface Dial {
  readonly still: { readonly timeS: number; readonly width: number; readonly height: number };
  readonly pivot?: { readonly x: number; readonly y: number };
  readonly marks: readonly { readonly x: number; readonly y: number; readonly volts: number }[];
}

const DIAL_FILE = {
  what: "dial",
  giveIt: "give the dial file, as busdip film asks for it",
  fillIt: "write the still, the pivot and two or more marks",
};
const say = (expected: string) => ({ error: expected });
const pixel = (name: string) => z.number(say(`${name} in pixels of the upright picture, a number`));
const wholePixels = (name: string) =>
  z
    .int(say(`the picture's ${name} in pixels, a whole number above 0`))
    .positive(say(`the picture's ${name} in pixels, a whole number above 0`));

const dialSchema = z.strictObject(
  {
    still: z.strictObject(
      {
        time_s: z.number(say("the still's time in seconds, a number")),
        width: wholePixels("width"),
        height: wholePixels("height"),
      },
      say("the still, such as { time_s: 5.0, width: 1920, height: 1080 }"),
    ),
    pivot: z.strictObject({ x: pixel("x"), y: pixel("y") }, say("the pivot, such as { x: 941, y: 799 }")).optional(),
    marks: z
      .array(
        z.strictObject(
          { x: pixel("x"), y: pixel("y"), volts: z.number(say("the mark's volts, a number")) },
          say("a mark, such as { x: 690, y: 541, volts: 0 }"),
        ),
        say("a list of two or more marks, such as - { x: 690, y: 541, volts: 0 }"),
      )
      .min(2, say("two or more marks, such as - { x: 690, y: 541, volts: 0 }"))
      .max(200, say("at most 200 marks")),
  },
  say("the keys still, pivot (optional) and marks"),
);

/**
 * The dial in a YAML 1.2 text.
 *
 * @throws InputError naming the line, what was found and what to write instead.
 */
export function parseDial(text: string, fileName: string): Dial {
  const source = parseYaml(text, fileName, DIAL_FILE);
  const parsed = dialSchema.safeParse(plainValue(source));
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!;
    throw placedFault(source, issue);
  }
  const { still, pivot, marks } = parsed.data;
  refuseContradictions(fileName, parsed.data);
  return {
    still: { timeS: still.time_s, width: still.width, height: still.height },
    ...(pivot === undefined ? {} : { pivot }),
    marks,
  };
}

/** The text of a dial file, which `parseDial` reads back to the same values. */
export function formatDial(dial: Dial): string {
  return stringify(
    {
      still: { time_s: dial.still.timeS, width: dial.still.width, height: dial.still.height },
      ...(dial.pivot === undefined ? {} : { pivot: { x: dial.pivot.x, y: dial.pivot.y } }),
      marks: dial.marks.map(({ x, y, volts }) => ({ x, y, volts })),
    },
    { flowCollectionPadding: true, collectionStyle: "any" },
  );
}

function placedFault({ fileName, document, lines }: ProfileText, issue: z.core.$ZodIssue): InputError {
  const node =
    issue.path.length === 0 ? document.contents : (document.getIn(issue.path, true) as typeof document.contents);
  const parent = document.getIn(issue.path.slice(0, -1), true) as typeof document.contents;
  const offset = (node ?? parent)?.range?.[0];
  const where = issue.path
    .map((step) => (typeof step === "number" ? `[${step}]` : `.${String(step)}`))
    .join("")
    .replace(/^\./, "");
  const place = { file: fileName, ...(offset === undefined ? {} : { line: lines.linePos(offset).line }) };
  if (issue.code === "unrecognized_keys")
    return new InputError({
      ...place,
      problem: `key '${issue.keys[0]}' is not known in ${where === "" ? "a dial" : where}`,
      remedy: "a dial has still (time_s, width, height), pivot (x, y) and marks (x, y, volts)",
    });
  const missing = node === undefined || node === null;
  return new InputError({
    ...place,
    problem: where === "" ? "this is no dial" : missing ? `${where} is missing` : `${where} is not what it should be`,
    remedy: `write ${issue.message}`,
  });
}

function refuseContradictions(fileName: string, dial: z.infer<typeof dialSchema>): void {
  const { width, height } = dial.still;
  dial.marks.forEach((mark, index) => {
    if (mark.x < 0 || mark.y < 0 || mark.x > width || mark.y > height)
      throw new InputError({
        file: fileName,
        problem: `marks[${index}] lies at (${mark.x}, ${mark.y}), outside the still of ${width} x ${height} pixels`,
        remedy: "give places in pixels of the upright still",
      });
    dial.marks.slice(0, index).forEach((earlier, other) => {
      if (earlier.volts === mark.volts)
        throw new InputError({
          file: fileName,
          problem: `marks[${other}] and marks[${index}] both say ${mark.volts} V`,
          remedy: "give each mark its own volts",
        });
      if (Math.hypot(earlier.x - mark.x, earlier.y - mark.y) < 3)
        throw new InputError({
          file: fileName,
          problem: `marks[${other}] and marks[${index}] stand on one place`,
          remedy: "point out marks that are far from each other",
        });
    });
  });
}
