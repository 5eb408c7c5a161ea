import type {
  Analysis,
  Assumption,
  Dip,
  LoadAnswer,
  Quantity,
  ResistanceAt,
  SourceModel,
  TwoCurrentFigure,
  Unknown,
} from "../../core/index.js";
import type { NameOf } from "../label-text.js";
import { type Markup, markup } from "../markup.js";
import { unknownReasonText } from "../messages.js";
import {
  formatChance,
  formatMoment,
  formatPercent,
  formatPlain,
  formatQuantity,
  roundToUncertainty,
} from "../number-format.js";
import { depthText, detectionModeText, routeText } from "../quantity-words.js";
import { searchedLimitText } from "../verdict-words.js";
import { tableMarkup } from "./figures.js";

const MOST_DIPS = 300;

/** A table and what is to be said below it, before anything decides how to set it. */
export interface NotedTable {
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
  readonly asides: readonly string[];
}

/** All verdicts with the limits they were judged by. */
export function verdictTable(analysis: Analysis, nameOf: NameOf): NotedTable | null {
  if (analysis.loads.length === 0) return null;
  const { detection } = analysis;
  const head = [
    "Load",
    "Verdict",
    "Switchings",
    "Depth",
    "Critical value",
    "Minimum detectable",
    "Lowest acceptable",
    "Current",
    "By noise alone",
  ];
  const rows = analysis.loads.flatMap((load) => verdictRows(load, nameOf));
  const mode = detectionModeText(detection.mode);
  const aside = `Judged with switching times ${mode}. At most ${formatPercent(detection.falseAlarmRate)} of recordings without any response would show one (shared over the loads); a dip of the minimum detectable value is found with ${formatPercent(detection.power)}. Critical value and minimum detectable value after ISO 11843-1. \u00b1 is half the coverage interval${coverageOf(analysis)}.`;
  const searched = searchedLimitText(analysis);
  const ofWhich = `Since the times were searched for, the limits are those of one rhythm, without a cold start: ${searched}.`;
  return { head, rows, asides: searched === null ? [aside] : [aside, ofWhich] };
}

/** The verdict table as a section of a page. */
export function verdictSection(analysis: Analysis, nameOf: NameOf): Markup | null {
  return tableSection("verdicts", "Verdicts", verdictTable(analysis, nameOf));
}

function tableSection(id: string, heading: string, table: NotedTable | null): Markup | null {
  if (table === null) return null;
  return markup`<section id="${id}" class="wide" aria-labelledby="${id}-h"><h2 id="${id}-h">${heading}</h2><div class="body">
${tableMarkup(table, heading)}${table.asides.map((aside) => markup`<p class="aside">${aside}</p>`)}</div></section>`;
}

function verdictRows(load: LoadAnswer, nameOf: NameOf): string[][] {
  const settled = [
    `${nameOf(load.id)}${load.reference ? " (reference)" : ""}`,
    load.verdict,
    String(load.switchingCount),
    depthText(load),
    formatPlain(load.criticalDepthV, "V", { digits: 2 }),
    formatPlain(load.minimumDetectableDepthV, "V", { digits: 2 }),
    formatPlain(load.expectedDepthV, "V", { digits: 2 }),
    load.current === null ? "not identifiable" : compact(load.current),
    formatChance(load.pValue),
  ];
  if (load.coldDepth === null) return [settled];
  const coldCurrent = load.coldCurrent === null ? "not identifiable" : compact(load.coldCurrent);
  return [settled, [`${nameOf(load.id)}, cold`, "", "", compact(load.coldDepth), "", "", "", coldCurrent, ""]];
}

function coverageOf(analysis: Analysis): string {
  const coverage = analysis.loads.find((load) => load.depth !== null)?.depth?.coverage;
  return coverage === undefined ? "" : ` of ${formatPercent(coverage)}`;
}

/** Every dip found. */
export function dipTable(analysis: Analysis, nameOf: NameOf): NotedTable | null {
  if (analysis.dips.length === 0) return null;
  const head = ["Dip", "Load", "Onset", "Duration", "Depth", "Residual voltage", "Current", "Source resistance"];
  const shown = analysis.dips.slice(0, MOST_DIPS);
  const rows = shown.map((dip, i) => [
    String(i + 1),
    dip.load === null ? "not told" : nameOf(dip.load),
    formatMoment(dip.onsetS),
    formatMoment(dip.durationS),
    compact(dip.depth),
    residual(dip),
    dip.current === null ? "not identifiable" : compact(dip.current),
    dip.resistances.length === 0 ? "not identifiable" : dip.resistances.map(resistanceCell).join("; "),
  ]);
  const left = analysis.dips.length - shown.length;
  const more = left > 0 ? [`${left.toLocaleString("en")} more dips stand in result.json.`] : [];
  const aside =
    "Depth is the reference voltage less the residual voltage (IEC 61000-4-30); the residual voltage is as uncertain as the depth and is rounded like it. Source resistance at the stated time after the step. Onset and duration are where the fit is best and carry no interval: those of a faint dip may be off by more than their last digits say.";
  return { head, rows, asides: [...more, aside] };
}

/** The dips as a section of a page. */
export function dipSection(analysis: Analysis, nameOf: NameOf): Markup | null {
  return tableSection("dips", "Dips", dipTable(analysis, nameOf));
}

/** Open-circuit voltage, resistances and endurance, each with its route or the reason why not. */
export function batteryTable(analysis: Analysis): NotedTable {
  const { battery, assumptions } = analysis;
  const why = (what: Unknown) => reasonFor(what, assumptions);
  const resistance = (name: string, what: Unknown, at: ResistanceAt | null) => [
    at === null ? name : `${name}, ${formatPlain(at.atS, "s", { digits: 2 })} after the step`,
    at === null ? "not identifiable" : formatQuantity(at.resistance, { coverage: true }),
    at === null ? "" : formatQuantity(at.resistance, { form: "standard" }),
    at === null ? why(what) : routeText(at.resistance.route),
  ];
  const plain = (name: string, what: Unknown, quantity: typeof battery.openCircuit | typeof battery.endurance) => [
    name,
    quantity === null ? "not identifiable" : formatQuantity(quantity, { coverage: true }),
    quantity === null ? "" : formatQuantity(quantity, { form: "standard" }),
    quantity === null ? why(what) : routeText(quantity.route),
  ];
  const rows = [
    plain("Open-circuit voltage", "open-circuit", battery.openCircuit),
    resistance("Source resistance at the meter", "resistance", battery.source),
    resistance("Battery's internal resistance", "internal-resistance", battery.internal),
    ...(battery.normalized === null
      ? []
      : [resistance("Internal resistance, normalised", "normalized", battery.normalized)]),
    ...modelRows(battery.model),
    ...twoCurrentRows(battery.twoCurrent ?? []),
    plain("Endurance", "endurance", battery.endurance),
  ];
  const required =
    battery.requiredEnduranceMin === null
      ? []
      : [
          `Required endurance: ${formatPlain(battery.requiredEnduranceMin, "min", { digits: 2 })}. The endurance is advisory; the capacity check of the approved manual decides.`,
        ];
  const head = ["Quantity", "Value and interval", "Value and standard uncertainty", "How, or why not"];
  return { head, rows, asides: required };
}

/** Ohmic part and polarisation, where they can be told apart. */
function modelRows(model: SourceModel | null): readonly string[][] {
  if (model === null) return [];
  const row = (name: string, quantity: Quantity<"Ohm"> | Quantity<"s">) => [
    name,
    formatQuantity(quantity, { coverage: true }),
    formatQuantity(quantity, { form: "standard" }),
    routeText(quantity.route),
  ];
  return [
    row("Source resistance, ohmic part", model.ohmic),
    ...model.pairs.flatMap(({ resistance, timeConstant }, k) => {
      const which = model.pairs.length > 1 ? (k === 0 ? ", faster" : ", slower") : "";
      return [row(`Polarisation${which}`, resistance), row(`Time constant of it${which}`, timeConstant)];
    }),
  ];
}

/** Figures by the two-current rules; says where the currents are not those of the standard. */
function twoCurrentRows(figures: readonly TwoCurrentFigure[]): readonly string[][] {
  return figures.flatMap(({ standard, levelsAsStandard, resistance, shortCircuit, firstA, secondA }) => {
    const at = `${formatQuantity(firstA, { form: "standard" })} and ${formatQuantity(secondA, { form: "standard" })}`;
    const doubt = levelsAsStandard === true ? "" : "; currents are not checked against the standard's";
    const other = levelsAsStandard === false ? "; the standard asks for other currents" : doubt;
    const row = (name: string, quantity: Quantity<"Ohm"> | Quantity<"A">) => [
      `${name}, two currents (${standard})`,
      formatQuantity(quantity, { coverage: true }),
      formatQuantity(quantity, { form: "standard" }),
      `from ${at}${other}`,
    ];
    return [
      row("Resistance", resistance),
      ...(shortCircuit === null ? [] : [row("Short-circuit current", shortCircuit)]),
    ];
  });
}

/** The battery's figures as a section of a page. */
export function batterySection(analysis: Analysis): Markup | null {
  return tableSection("battery", "Battery", batteryTable(analysis));
}

/** The residual voltage to the place that the depth's uncertainty leaves it. */
function residual(dip: Dip): string {
  if (!(dip.depth.u > 0) || !Number.isFinite(dip.residualV)) return formatPlain(dip.residualV, "V", { digits: 4 });
  return `${roundToUncertainty(dip.residualV, dip.depth.u).value} V`;
}

function compact(quantity: Quantity<"V"> | Quantity<"A">): string {
  return formatQuantity(quantity, { form: "compact" });
}

function resistanceCell(at: ResistanceAt): string {
  return `${formatQuantity(at.resistance, { form: "compact" })} at ${formatPlain(at.atS, "s", { digits: 2 })}`;
}

function reasonFor(what: Unknown, assumptions: readonly Assumption[]): string {
  for (const note of assumptions) {
    if (note.code === "not-identifiable" && note.what === what && note.load === null)
      return unknownReasonText(note.why);
  }
  return "this recording does not tell it";
}
