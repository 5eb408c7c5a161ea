/** The sign of a verdict, drawn around a point. */
export function signSvg(sign: "disc" | "cross" | "diamond", colour: string, x: number, y: number): string {
  switch (sign) {
    case "disc":
      return `<circle class="f-sign f-full f-${colour}" cx="${x}" cy="${y}" r="5"/>`;
    case "cross":
      return `<path class="f-sign f-${colour}" d="M${x - 5} ${y - 5}l10 10m0 -10l-10 10"/>`;
    case "diamond":
      return `<path class="f-sign f-hollow f-${colour}" d="M${x} ${y - 6.5}l6.5 6.5l-6.5 6.5l-6.5 -6.5Z"/>`;
  }
}
