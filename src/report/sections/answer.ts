import type { Analysis, LoadAnswer, Verdict, WholeBus } from "../../core/index.js";
import { labelMarkup, type Markup, markup, ready } from "../markup.js";
import { cautionText } from "../messages.js";
import { formatChance, formatQuantity } from "../number-format.js";
import { wholeBusHeadline } from "../plan/whole-bus-words.js";
import { batteryText, depthText, figuresLegend } from "../quantity-words.js";
import { headline, nextSteps, verdictReasonText } from "../verdict-words.js";
import { wholeBusTable } from "./whole-bus.js";

const VERDICT_CLASS: Record<Verdict, string> = {
  responded: "responded",
  "no response": "silent",
  undecided: "undecided",
};

/** The trace of a pointer that dips, that does not, and that may: solid, flat, broken. */
const PICTOGRAMS: Record<Verdict, string> = {
  responded: `<path d="M2 6H15V22H41V6H54"/>`,
  "no response": `<path d="M2 6H54"/><path class="ghost" d="M15 10V22H41V10"/>`,
  undecided: `<path class="broken" d="M2 6H15V22H41V6H54"/><text x="28" y="17">?</text>`,
};

/** The verdict on every load, worst first in words, and what to do next; of a whole bus every item. */
export function answerSection(analysis: Analysis, wholeBus?: WholeBus): Markup {
  const answers =
    wholeBus === undefined
      ? loadAnswers(analysis)
      : markup`<p class="headline">${wholeBusHeadline(wholeBus)}</p>
${wholeBusTable(wholeBus)}`;
  return markup`<section id="answer" aria-labelledby="answer-h"><h2 id="answer-h">Answer</h2><div class="body">
${answers}
${batteryLine(analysis)}${legendLine(analysis)}<h3>What to do next</h3>
<ul class="next">${nextSteps(analysis, wholeBus).map((step) => markup`<li>${step}</li>`)}</ul>
${doubtsNote(analysis)}</div></section>`;
}

/** What the meter alone told, where the answer is that of a whole bus. */
export function meterSection(analysis: Analysis, wholeBus: WholeBus | undefined): Markup | null {
  if (wholeBus === undefined || analysis.loads.length === 0) return null;
  return markup`<section id="meter" aria-labelledby="meter-h"><h2 id="meter-h">By the meter</h2><div class="body">
${loadAnswers(analysis)}</div></section>`;
}

function loadAnswers(analysis: Analysis): Markup {
  return markup`<p class="headline">${headline(analysis)}</p>
${analysis.loads.length === 0 ? null : markup`<ol class="answers">${analysis.loads.map(answer)}</ol>`}`;
}

/** The cautions, in full. */
export function cautionSection(analysis: Analysis): Markup {
  return markup`<section id="cautions" aria-labelledby="cautions-h"><h2 id="cautions-h">Cautions</h2><div class="body">
<ul class="cautions">${analysis.cautions.map((caution) => markup`<li>${cautionText(caution)}</li>`)}</ul></div></section>`;
}

function batteryLine(analysis: Analysis): Markup {
  return markup`<p class="battery-line"><b>Battery:</b> ${batteryText(analysis)}</p>
`;
}

function legendLine(analysis: Analysis): Markup | null {
  const legend = figuresLegend(analysis);
  return legend === ""
    ? null
    : markup`<p class="aside">${legend}</p>
`;
}

function answer(load: LoadAnswer): Markup {
  const figures = [
    ["Depth", depthText(load)],
    ["Current", load.current === null ? "not identifiable" : formatQuantity(load.current, { form: "compact" })],
    ["By noise alone", formatChance(load.pValue)],
  ];
  return markup`<li class="answer ${VERDICT_CLASS[load.verdict]}">
${pictogram(load.verdict)}
<p class="verdict"><span class="who">${labelMarkup(load.name || load.id, 80)}</span><strong>${load.verdict}</strong></p>
<dl>${figures.map(([term, figure]) => markup`<div><dt>${term!}</dt><dd>${figure!}</dd></div>`)}</dl>
<p class="why">${verdictReasonText(load)}</p></li>`;
}

function pictogram(verdict: Verdict): Markup {
  return ready(`<svg class="pictogram" viewBox="0 0 56 28" aria-hidden="true">${PICTOGRAMS[verdict]}</svg>`);
}

function doubtsNote(analysis: Analysis): Markup | null {
  const doubts = analysis.warnings.length;
  if (doubts === 0) return null;
  return markup`<p class="aside"><a href="#doubts">${doubts === 1 ? "One doubt stands" : `${doubts} doubts stand`}</a> about this recording; read before relying on the answer.</p>`;
}
