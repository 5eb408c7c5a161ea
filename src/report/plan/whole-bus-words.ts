import type { BusItem, Verdict, WholeBus } from "../../core/index.js";
import { plainLabel } from "../label-text.js";
import { formatChance, formatQuantity } from "../number-format.js";

/** Heads of the account of the whole bus. */
export const WHOLE_BUS_HEAD = ["Item", "Stands", "Evidence", "Found by, when"] as const;

/** What stands for or against one load, in a word or two. */
export function standingText(item: BusItem): string {
  switch (item.standing) {
    case "answered":
      return "answered";
    case "silent":
      return "no answer";
    case "contradiction":
      return "contradiction";
    case "open":
      return "undecided";
    case "no-evidence":
      return "no evidence";
  }
}

/** The evidence on one load: what the meter says, then what a person found. */
export function evidenceText(item: BusItem): string {
  const parts: string[] = [];
  const { answer, tick } = item;
  if (answer !== null) {
    const depth = answer.depth === null ? "" : `, ${formatQuantity(answer.depth, { form: "compact" })}`;
    const current = answer.current === null ? "" : `, ${formatQuantity(answer.current, { form: "compact" })}`;
    const chance = answer.verdict === "responded" ? `, by noise alone ${formatChance(answer.pValue)}` : "";
    parts.push(`meter: ${answer.verdict}${depth}${current}${chance}`);
  }
  if (tick !== null) {
    const found = tick.found === "not" ? "looked for, not found" : tick.found;
    parts.push(tick.note === null ? found : `${found} (${plainLabel(tick.note, 80)})`);
  }
  if (parts.length > 0) return parts.join("; ");
  const how = { needle: "not switched in the recording", seen: "not looked for", heard: "not listened for" }[
    item.shows
  ];
  return `no evidence: ${how}`;
}

/** By whom and when; empty where nobody wrote it. */
export function witnessText({ tick }: BusItem): string {
  return [tick?.by, tick?.when]
    .filter((one): one is string => one !== null && one !== undefined)
    .map((one) => plainLabel(one, 40))
    .join(", ");
}

/** The account in one or two sentences. */
export function wholeBusHeadline(bus: WholeBus): string {
  const count = (standing: BusItem["standing"]) => bus.items.filter((item) => item.standing === standing).length;
  const rest = [
    [count("silent"), "without an answer"],
    [count("contradiction"), "where meter and person contradict each other"],
    [count("open"), "undecided"],
    [count("no-evidence"), "with no evidence"],
  ] as const;
  const told = rest.flatMap(([number, words]) => (number === 0 ? [] : [`${number} ${words}`]));
  const open = told.length === 0 ? "nothing is left open" : told.join(", ");
  return `${bus.answeredCount} of ${bus.items.length} items answered; ${open}.`;
}

/** One row per item. */
export function wholeBusRows(bus: WholeBus): readonly (readonly string[])[] {
  return bus.items.map((item) => [
    plainLabel(item.bus === null ? item.name : `${item.name} (${item.bus})`, 60),
    standingText(item),
    evidenceText(item),
    witnessText(item),
  ]);
}

/** The verdict whose sign stands for each item. */
export function wholeBusSigns(bus: WholeBus): readonly Verdict[] {
  const signs = {
    answered: "responded",
    silent: "no response",
    contradiction: "no response",
    open: "undecided",
    "no-evidence": "undecided",
  } as const;
  return bus.items.map(({ standing }) => signs[standing]);
}
