import { unbrokenFigures } from "./number-format.js";

/** Whether a font can draw a code point. */
export type HasGlyph = (codePoint: number) => boolean;

const DIRECTIONS = /[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]/u;
const INVISIBLE = /[\p{Default_Ignorable_Code_Point}\p{Cc}\p{Zl}\p{Zp}]/u;

/**
 * The text with only signs that the font can draw: an invisible sign is left out, another without a glyph is written as
 * its number, such as `[U+1F525]`, since PDF/A forbids the empty box and a reader should know what stood there. Signs
 * that tell directions are kept where asked, for those who put the words in order.
 */
export function drawable(text: string, hasGlyph: HasGlyph, keepDirections = false): string {
  let result = "";
  for (const sign of unbrokenFigures(text)) {
    const codePoint = sign.codePointAt(0)!;
    if (keepDirections && DIRECTIONS.test(sign)) result += sign;
    else if (INVISIBLE.test(sign)) {
      if (/\s/u.test(sign)) result += " ";
    } else if (hasGlyph(codePoint)) result += sign;
    else result += `[U+${codePoint.toString(16).toUpperCase().padStart(4, "0")}]`;
  }
  return result;
}
