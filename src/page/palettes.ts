import { DARK_PALETTE, figureRules, LIGHT_PALETTE, paletteProperties } from "../report/figures/svg-style.js";

/** Gives the page the colours and the figure rules of the reports, light and dark. */
export function usePalettes(): void {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`:root{${paletteProperties(LIGHT_PALETTE)}}
@media (prefers-color-scheme:dark){:root{${paletteProperties(DARK_PALETTE)}}}
${figureRules()}`);
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
}
