import type { FrameFault, NeedleReading } from "../importers/video/needle-reading.js";
import type { NodeClip } from "../importers/video/node/node-clip.js";

const FAULT_WORDS: Readonly<Record<FrameFault, string>> = {
  "dial-lost": "the dial was out of view or hidden",
  "needle-hidden": "the needle was hidden",
  "beyond-scale": "the needle stood outside the marked scale",
};

/** Gaps shorter than this are told by their number only. */
const WORTH_TELLING_S = 0.3;

/** What a person should know of readings from film: decoder, frames, doubt that they share, and gaps. */
export function filmFacts(clip: Pick<NodeClip, "decoder">, reading: NeedleReading): string[] {
  const { frameQuality, timesS, offsetUncertaintyV, gainUncertainty, gaps, dial } = reading;
  const long = gaps.filter(({ startS, endS }) => endS - startS >= WORTH_TELLING_S);
  const short = gaps.length - long.length;
  return [
    `decoder: ${clip.decoder}`,
    `frames: ${frameQuality.length}, of which ${timesS.length} gave a reading`,
    `scale: from ${dial.scaleFrom === "marks" ? "the marks in the dial file" : "the meter in the profile"}, ${dial.marks.length} marks found on the dial`,
    `common offset u_V: ${offsetUncertaintyV.toPrecision(2)}`,
    `gain u: ${gainUncertainty.toPrecision(2)} of every dip's depth, common to all and not in the uncertainties below`,
    ...long.map(
      ({ startS, endS, fault }) =>
        `gap: no reading from ${startS.toFixed(3)} to ${endS.toFixed(3)} s, ${FAULT_WORDS[fault]}`,
    ),
    ...(short === 0 ? [] : [`gaps under ${WORTH_TELLING_S} s: ${short}`]),
  ];
}

/**
 * The readings as a recording CSV; `u_V` is the standard uncertainty of a reading against its neighbours, and what all
 * share stands in `#` lines.
 */
export function filmReadingsCsv(
  film: { readonly clip: Pick<NodeClip, "decoder">; readonly reading: NeedleReading; readonly sha256: string },
  more: readonly string[] = [],
): string {
  const { timesS, voltagesV, readingUncertaintiesV } = film.reading;
  const facts = [`clip sha256: ${film.sha256}`, ...filmFacts(film.clip, film.reading), ...more];
  const rows = Array.from(
    timesS,
    (timeS, i) => `${timeS.toFixed(6)},${voltagesV[i]!.toFixed(5)},${readingUncertaintiesV[i]!.toPrecision(3)}`,
  );
  return `${[...facts.map((fact) => `# ${fact}`), "time_s,voltage_V,u_V", ...rows].join("\n")}\n`;
}
