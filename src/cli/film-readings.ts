import { filmFacts } from "../importers/video/film-facts.js";
import type { NeedleReading } from "../importers/video/needle-reading.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";

/**
 * The readings as a recording CSV; `u_V` is the standard uncertainty of a reading against its neighbours, `aside_V` what
 * it would change by if the needle might lie aside, and what all share stands in `#` lines.
 */
export function filmReadingsCsv(
  film: { readonly clip: Pick<NodeClip, "decoder">; readonly reading: NeedleReading; readonly sha256: string },
  more: readonly string[] = [],
): string {
  const { timesS, voltagesV, readingUncertaintiesV, asidesV, gainUncertainty } = film.reading;
  const facts = [
    `clip sha256: ${film.sha256}`,
    ...filmFacts(film.clip.decoder, film.reading),
    ...more,
    `gain_u: ${gainUncertainty.toPrecision(3)}`,
  ];
  const rows = Array.from(
    timesS,
    (timeS, i) =>
      `${timeS.toFixed(6)},${voltagesV[i]!.toFixed(5)},${readingUncertaintiesV[i]!.toPrecision(3)},${asidesV[i]!.toFixed(5)}`,
  );
  return `${[...facts.map((fact) => `# ${fact}`), "time_s,voltage_V,u_V,aside_V", ...rows].join("\n")}\n`;
}
