import { LineCounter, parseDocument } from "yaml";
import { InputError } from "../input-error.js";
import type { ProfileText } from "./profile-fault.js";

/** What a YAML file is called in its complaints, and what to do instead. */
export interface YamlFile {
  readonly what: string;
  /** Remedy where it is another file. */
  readonly giveIt: string;
  /** Remedy where it is empty. */
  readonly fillIt: string;
}

/** A page of text; anything much longer is another file taken for one. */
const LONGEST_CHARACTERS = 1_000_000;

/**
 * Parses a YAML 1.2 text of one document.
 *
 * @throws InputError naming line and column of what cannot be read.
 */
export function parseYaml(text: string, fileName: string, { what, giveIt, fillIt }: YamlFile): ProfileText {
  if (text.length > LONGEST_CHARACTERS) {
    throw new InputError({
      file: fileName,
      problem: `the ${what} is ${(text.length / 1e6).toFixed(1)} million characters long, which no ${what} is`,
      remedy: giveIt,
    });
  }
  if (text.includes("\u0000")) {
    throw new InputError({
      file: fileName,
      problem: `this is a binary file, not a ${what}`,
      remedy: giveIt,
    });
  }
  const lines = new LineCounter();
  const document = parsed(text.replace(/^\uFEFF/, ""), lines);
  if (document === null) {
    throw new InputError({
      file: fileName,
      problem: `the ${what} is nested too deeply to be read`,
      remedy: "check its brackets and dashes",
    });
  }
  const fault = document.errors[0] ?? document.warnings[0];
  if (fault !== undefined) {
    const { line, col } = lines.linePos(fault.pos[0]);
    throw new InputError({
      file: fileName,
      line,
      column: col,
      problem: `the YAML cannot be read here (${yamlComplaint(fault.message, what)})`,
      remedy: "check indentation, colons, brackets and quotes on this line and the one before",
    });
  }
  if (document.contents === null) {
    throw new InputError({
      file: fileName,
      problem: `the ${what} is empty`,
      remedy: fillIt,
    });
  }
  return { fileName, document, lines };
}

/** The document of a text; null where its nesting is deeper than the parser's stack. */
function parsed(text: string, lineCounter: LineCounter): ReturnType<typeof parseDocument> | null {
  try {
    return parseDocument(text, {
      version: "1.2",
      lineCounter,
      prettyErrors: false,
      stringKeys: true,
      uniqueKeys: true,
    });
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

function yamlComplaint(message: string, what: string): string {
  if (message.includes("call stack")) return "brackets are nested too deeply";
  if (message.includes("multiple documents")) return `a second document begins, and a ${what} is one document`;
  return message.replace(/[.\s]+$/, "").replace(/\s+/g, " ");
}

/** The plain value that a parsed text stands for. */
export function plainValue(source: ProfileText): unknown {
  try {
    return source.document.toJS({ maxAliasCount: 100 });
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    throw new InputError({
      file: source.fileName,
      problem: `the YAML refers to its own anchors in a way that cannot be followed (${error.message})`,
      remedy: "write the values out instead of using & and *",
    });
  }
}
