import type { KeyEntry } from "./figure.js";
import { POINT_RADIUS_PX, VERDICT_LOOKS } from "./figure-theme.js";
import { signSvg } from "./svg-sign.js";

const KEY_ROW_PX = 20;
const KEY_LEFT_PX = 8;
const KEY_GAP_PX = 18;
const SWATCH_PX = 30;
const SIGN_PX = 6.4;

/** A swatch of one role, drawn in a box of 30 by 16. */
export function swatchSvg(sign: KeyEntry["sign"]): string {
  switch (sign) {
    case "readings":
    case "means":
      return `<path class="f-points f-${sign}" stroke-width="${2 * POINT_RADIUS_PX}" d="M4 10h0M11 5h0M19 11h0M26 6h0"/>`;
    case "band":
      return `<rect class="f-band" x="2" y="3" width="26" height="10"/><path class="f-line f-bracket" d="M2 3h26M2 13h26M5 13l7 -10M13 13l7 -10M21 13l7 -10"/>`;
    case "span":
      return `<rect class="f-span" x="2" y="1" width="26" height="14"/>`;
    case "critical":
    case "expected":
      return `<path class="f-line f-${sign}" d="M15 1V15"/>`;
    case "responded":
    case "no response":
    case "undecided": {
      const look = VERDICT_LOOKS[sign];
      return signSvg(look.sign, look.colour, 15, 8);
    }
    default:
      return `<path class="f-line f-${sign}" d="M2 8H28"/>`;
  }
}

/** The key of a figure as swatches and words, in as many rows as the width asks for. */
export function figureKeySvg(
  key: readonly KeyEntry[],
  widthPx: number,
): { readonly svg: string; readonly heightPx: number } {
  let x = KEY_LEFT_PX;
  let row = 0;
  const entries = key.map((entry) => {
    const entryPx = SWATCH_PX + 6 + entry.text.length * SIGN_PX;
    if (x > KEY_LEFT_PX && x + entryPx > widthPx) {
      x = KEY_LEFT_PX;
      row++;
    }
    const place = `translate(${Math.round(x)} ${3 + row * KEY_ROW_PX})`;
    x += entryPx + KEY_GAP_PX;
    return `<g transform="${place}">${swatchSvg(entry.sign)}<text class="f-tick" x="${SWATCH_PX + 6}" y="12">${entry.text}</text></g>`;
  });
  return { svg: entries.join(""), heightPx: (row + 1) * KEY_ROW_PX + 6 };
}
