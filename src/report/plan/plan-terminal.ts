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
  const lines = [
    ...wrappedLines(planHeadline(plan), columns),
    "",
    ...columnLines([["#", "load", "by", "what to do"], ...order], columns),
    "",
    ...(shown.length === 0
      ? []
      : [...columnLines([["load", "shows from", "times", "chance", "expected dip (95 %)"], ...shown], columns), ""]),
    ...labelledLines("Not shown", obstacles, columns),
    ...labelledLines("Beat", beats.length === 0 ? [] : [BEAT_HELP.replace("Beat: ", ""), ...beats], columns),
    "",
    ...labelledLines("Endurance", [enduranceHeadline(outlook)], columns),
    ...(sheds.length === 0 ? [] : ["", ...columnLines([SHED_HEAD, ...sheds], columns), ""]),
    ...labelledLines("Basis", [...planBasis(plan), ...enduranceBasis(outlook)], columns),
    ...labelledLines("Caution", PLAN_CAUTIONS, columns),
  ];
  const text = `${lines.join("\n")}\n`;
  return style.ascii ? asciiText(text) : text;
}
