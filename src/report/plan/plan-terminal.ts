import type { CheckPlan, EnduranceOutlook } from "../../core/index.js";
import { asciiText } from "../label-text.js";
import type { TerminalStyle } from "../terminal-summary.js";
import { enduranceBasis, enduranceHeadline, SHED_HEAD, shedRows } from "./endurance-words.js";
import { PLAN_CAUTIONS } from "./plan-cautions.js";
import {
  BEAT_HELP,
  beatText,
  careText,
  chanceText,
  detectableText,
  expectedText,
  obstacleText,
  planBasis,
  planHeadline,
  planNames,
  taskText,
  wayText,
} from "./plan-words.js";
import { columnLines, labelledLines, wrappedLines } from "./text-lines.js";

/** The plan as text: headline, the check in order, what the meter can show, endurance, basis, cautions. */
export function renderPlanTerminal(plan: CheckPlan, outlook: EnduranceOutlook, style: TerminalStyle): string {
  const columns = Math.min(100, Math.max(60, Math.floor(style.columns)));
  const nameOf = planNames(plan);
  const needles = plan.items.flatMap(({ load, needle }) => (needle === null ? [] : [{ load, needle }]));
  const order = plan.items.map((item, i) => [
    String(i + 1),
    nameOf(item.load.id),
    wayText(item),
    [taskText(item), careText(item, nameOf)].filter((text) => text !== "").join(". "),
  ]);
  const shown = needles.map(({ load, needle }) => [
    nameOf(load.id),
    detectableText(needle),
    needle.pattern === null ? "-" : String(needle.pattern.onS.length),
    chanceText(needle),
    expectedText(needle),
  ]);
  const obstacles = needles.flatMap(({ load, needle }) =>
    needle.obstacle === null ? [] : [`${nameOf(load.id)}: ${obstacleText(needle.obstacle, nameOf)}`],
  );
  const beats = needles.flatMap(({ load, needle }) =>
    needle.pattern === null
      ? []
      : [`${nameOf(load.id)}: ${beatText(needle.pattern)}, ${needle.pattern.lengthS} s in all`],
  );
  const sheds = shedRows(outlook);
  // A sign's ASCII twin may be longer: it must stand there before lines are broken.
  const plain = (text: string) => (style.ascii ? asciiText(text) : text);
  const table = (rows: readonly (readonly string[])[]) =>
    columnLines(
      rows.map((row) => row.map(plain)),
      columns,
    );
  const labelled = (label: string, paragraphs: readonly string[]) =>
    labelledLines(label, paragraphs.map(plain), columns);
  const lines = [
    ...wrappedLines(planHeadline(plan), columns),
    "",
    ...table([["#", "load", "by", "what to do"], ...order]),
    "",
    ...(shown.length === 0
      ? []
      : [...table([["load", "shows from", "times", "chance", "expected dip (95 %)"], ...shown]), ""]),
    ...labelled("Not shown", obstacles),
    ...labelled("Beat", beats.length === 0 ? [] : [BEAT_HELP.replace("Beat: ", ""), ...beats]),
    "",
    ...labelled("Endurance", [enduranceHeadline(outlook)]),
    ...(sheds.length === 0 ? [] : ["", ...table([SHED_HEAD, ...sheds]), ""]),
    ...labelled("Basis", [...planBasis(plan), ...enduranceBasis(outlook)]),
    ...labelled("Caution", PLAN_CAUTIONS),
  ];
  return `${lines.join("\n")}\n`;
}
