import type { Analysis } from "../../core/index.js";
import { type NameOf, plainLabel } from "../label-text.js";
import { labelMarkup, type Markup, markup, verbatim } from "../markup.js";
import { assumptionText, count, warningText } from "../messages.js";
import { formatDuration, formatPercent, formatPlain } from "../number-format.js";
import { detectionModeText } from "../quantity-words.js";
import type { ReportContext } from "../report-context.js";

/** Doubts that ask for something, assumptions that do not. */
export function noteSections(analysis: Analysis, nameOf: NameOf): Markup {
  const doubts = analysis.warnings.map((warning) => markup`<li>${warningText(warning, nameOf)}</li>`);
  const assumptions = analysis.assumptions.map((note) => markup`<li>${assumptionText(note, nameOf)}</li>`);
  return markup`<section id="doubts" aria-labelledby="doubts-h"><h2 id="doubts-h">Doubts</h2><div class="body">
${doubts.length === 0 ? markup`<p>None.</p>` : markup`<ul>${doubts}</ul>`}</div></section>
<section id="assumptions" aria-labelledby="assumptions-h"><h2 id="assumptions-h">Assumptions</h2><div class="body">
${assumptions.length === 0 ? markup`<p>None beyond the model of a dip.</p>` : markup`<ul>${assumptions}</ul>`}</div></section>`;
}

/** What the readings are like, as terms and facts. */
export function readingFacts(analysis: Analysis): readonly (readonly [string, string])[] {
  const { recording, noise } = analysis;
  return [
    ["Readings", recording.sampleCount.toLocaleString("en")],
    ["Duration", formatDuration(recording.durationS)],
    ["Sampling rate (median)", formatPlain(recording.sampleRateHz, "Hz")],
    [
      "Lowest and highest",
      `${formatPlain(recording.lowestV, "V", { digits: 4 })} and ${formatPlain(recording.highestV, "V", { digits: 4 })}`,
    ],
    ["Gaps", recording.gaps.length === 0 ? "none" : count(recording.gaps.length, "gap")],
    ["Noise of one reading (standard deviation)", formatPlain(noise.sigmaV, "V", { digits: 2 })],
    ["Correlation from reading to reading", formatPlain(noise.ar1, "1", { digits: 2 })],
    ["Display step", noise.quantumV === null ? "none seen" : formatPlain(noise.quantumV, "V", { digits: 2 })],
  ];
}

/** What was understood of the file, and what the readings are like. */
export function readingsSection(analysis: Analysis, context: ReportContext): Markup {
  const facts = readingFacts(analysis);
  return markup`<section id="readings" aria-labelledby="readings-h"><h2 id="readings-h">Readings</h2><div class="body">
${factList(facts.map(([term, fact]) => [term, markup`${fact}`]))}
${context.understood.length === 0 ? null : markup`<h3>How the file was understood</h3><ul>${context.understood.map((sentence) => markup`<li>${labelMarkup(sentence, 400)}</li>`)}</ul>`}</div></section>`;
}

/** Where it all came from, as terms and facts. */
export function provenanceFacts(analysis: Analysis, context: ReportContext): readonly (readonly [string, string])[] {
  const { detection } = analysis;
  const options = context.options ?? [];
  return [
    ["Recording", plainLabel(context.source, 200)],
    ["SHA-256 of the recording", context.sha256],
    ["Made", madeAtText(context.madeAt)],
    ["Software", `busdip ${plainLabel(context.softwareVersion)}`],
    ["Switching times", detectionModeText(detection.mode)],
    [
      "False-alarm rate, power",
      `${formatPercent(detection.falseAlarmRate)} per recording, ${formatPercent(detection.power)}`,
    ],
    ["Options", options.length === 0 ? "none" : plainLabel(options.join(" "), 400)],
  ];
}

/** Where it all came from, so that it can be found and checked again. */
export function provenanceSection(analysis: Analysis, context: ReportContext): Markup {
  const facts = provenanceFacts(analysis, context).map(([term, fact]): [string, Markup] => {
    if (term === "Made") return [term, markup`<time datetime="${context.madeAt}">${fact}</time>`];
    return [term, fact === context.sha256 ? markup`<code>${fact}</code>` : markup`<bdi>${fact}</bdi>`];
  });
  return markup`<section id="provenance" aria-labelledby="provenance-h"><h2 id="provenance-h">Provenance</h2><div class="body">
${factList(facts)}
${context.profileText === undefined ? null : markup`<h3>Profile as given</h3><pre tabindex="0" dir="auto">${verbatim(context.profileText)}</pre>`}</div></section>`;
}

/** `2026-11-03 14:05 UTC` from an ISO 8601 moment in UTC; other moments as given. */
export function madeAtText(madeAt: string): string {
  const parts = /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)(?::\d\d(?:\.\d+)?)?Z$/.exec(madeAt);
  return parts === null ? plainLabel(madeAt) : `${parts[1]} ${parts[2]} UTC`;
}

function factList(facts: readonly (readonly [string, Markup])[]): Markup {
  return markup`<dl class="facts">${facts.map(([term, fact]) => markup`<div><dt>${term}</dt><dd>${fact}</dd></div>`)}</dl>`;
}
