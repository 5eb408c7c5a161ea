import { LINES, POINTS, TICKS } from "./figure-theme.js";

/** Colours of figures on white paper; each passes 4.5 to 1 against it where it writes words. */
export const LIGHT_PALETTE: Record<string, string> = {
  paper: "#fdfdfb",
  ink: "#16191d",
  soft: "#5a6068",
  grid: "#e3e2dc",
  reading: "#7c828a",
  model: "#0a5fa8",
  drift: "#a3540a",
  span: "#e9edf3",
  band: "#d9e3ee",
  responded: "#0a5fa8",
  silent: "#b02a12",
  undecided: "#6b5200",
};

/** The same roles on dark ground. */
export const DARK_PALETTE: Record<string, string> = {
  paper: "#14171a",
  ink: "#e9e7e1",
  soft: "#a5abb3",
  grid: "#2b3036",
  reading: "#7d848d",
  model: "#7cc0ff",
  drift: "#f0a868",
  span: "#22303f",
  band: "#263c52",
  responded: "#7cc0ff",
  silent: "#ff9a80",
  undecided: "#e3c252",
};

/** Rules that draw the roles by class; colours come from custom properties. */
export function figureRules(): string {
  const strokes = [...Object.entries(LINES), ...Object.entries(TICKS)].map(
    ([role, look]) =>
      `.f-${role}{stroke:var(--${look.colour});stroke-width:${look.widthPx}${look.dash === "" ? "" : `;stroke-dasharray:${look.dash}`}}`,
  );
  const verdicts = ["responded", "silent", "undecided"].map(
    (name) => `.f-${name}{stroke:var(--${name})}.f-full.f-${name}{fill:var(--${name})}`,
  );
  return `
.figure-svg text{font-family:var(--sans);fill:var(--ink);font-size:12px}
.f-line,.f-bar,.f-sign,.f-grid,.f-frame{fill:none}
.f-line{stroke-linejoin:round}
.f-grid{stroke:var(--grid);stroke-width:1}
.f-frame{stroke:var(--soft);stroke-width:1}
.f-points{fill:none;stroke-linecap:round}
${Object.entries(POINTS)
  .map(([role, colour]) => `.f-${role}{stroke:var(--${colour})}`)
  .join("\n")}
.f-span{fill:var(--span)}
.f-band{fill:var(--band)}
.f-hatch-line{stroke:var(--soft);stroke-width:.7}
.f-bar{stroke-width:2}
.f-sign{stroke-width:2.4}
.f-hollow{fill:var(--paper)}
.figure-svg .f-tick,.figure-svg .f-axis{fill:var(--soft);font-size:11.5px}
.figure-svg .f-title,.figure-svg .f-label{font-size:12px;unicode-bidi:plaintext}
.figure-svg .f-title{font-weight:600}
${[...strokes, ...verdicts].join("\n")}
`;
}

/** Custom properties of a palette. */
export function paletteProperties(palette: Record<string, string>): string {
  return Object.entries(palette)
    .map(([name, colour]) => `--${name}:${colour};`)
    .join("");
}

const STANDALONE_FONT = "Helvetica,Arial,sans-serif";

/** A style element that makes an SVG file stand alone; colours are written out, since many viewers know no custom ones. */
export function svgStyle(): string {
  const rules = figureRules().replace(
    /var\(--([a-z]+)\)/g,
    (_, name: string) => LIGHT_PALETTE[name] ?? STANDALONE_FONT,
  );
  return `<style>${rules}</style>`;
}
