import { renderTerminalSummary } from "../report/index.js";
import type { JudgedRecording } from "./analysis-job.js";
import { terminalStyle } from "./terminal-style.js";

/** The five-second summary in the style that the person's terminal can show. */
export function summary(judged: JudgedRecording, reportPath?: string): string {
  return renderTerminalSummary(judged.analysis, judged.context, terminalStyle(reportPath));
}
