import type { WholeBus } from "../../core/index.js";
import { asciiText } from "../label-text.js";
import type { TerminalStyle } from "../terminal-summary.js";
import { columnLines, wrappedLines } from "./text-lines.js";
import { wholeBusHeadline, wholeBusRows } from "./whole-bus-words.js";

/** The account of the whole bus as text. */
export function renderWholeBusTerminal(bus: WholeBus, style: TerminalStyle): string {
  const columns = Math.min(100, Math.max(60, Math.floor(style.columns)));
  const plain = (text: string) => (style.ascii ? asciiText(text) : text);
  const rows = wholeBusRows(bus).map(([item, stands, evidence, by]) =>
    [item!, stands!, by === "" ? evidence! : `${evidence} [${by}]`].map(plain),
  );
  const lines = [
    ...wrappedLines(`Whole bus: ${wholeBusHeadline(bus)}`, columns),
    "",
    ...columnLines([["item", "stands", "evidence"], ...rows], columns),
  ];
  return `${lines.join("\n")}\n`;
}
