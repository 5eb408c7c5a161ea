export type { Figure } from "./figures/figure.js";
export { svgFigure } from "./figures/svg-figure.js";
export { type HtmlReportContext, renderHtmlReport, reportFigures } from "./html.js";
export { type NameOf, namesOf, plainLabel } from "./label-text.js";
export { marksLeftOutText } from "./marks-left-out.js";
export { assumptionText, cautionText, shortCautionText, unknownReasonText, warningText } from "./messages.js";
export {
  formatChance,
  formatDuration,
  formatPercent,
  formatPlain,
  formatQuantity,
  type QuantityStyle,
  roundToUncertainty,
} from "./number-format.js";
export { renderPlanTerminal } from "./plan/plan-terminal.js";
export type { PlanContext } from "./plan/plan-words.js";
export { renderRunSheetHtml } from "./plan/run-sheet-html.js";
export { type RunSheetPdfContext, renderRunSheetPdf } from "./plan/run-sheet-pdf.js";
export { renderWholeBusTerminal } from "./plan/whole-bus-terminal.js";
export type { ReportContext } from "./report-context.js";
export { type ResultReading, readResultJson, toResultJson } from "./result-json.js";
export { RESULT_SCHEMA_NAME, type ResultJson, resultJsonSchema, resultSchema } from "./result-schema.js";
export { renderTerminalSummary, type TerminalStyle } from "./terminal-summary.js";
export type { BatteryStory, TrendContext } from "./trend-context.js";
export { renderFleetReport, renderTrendReport, sealedTrend, type TrendPageContext } from "./trend-html.js";
export { TREND_SCHEMA_NAME, trendJson } from "./trend-json.js";
export { renderBatteryTrend, renderFleetTrend } from "./trend-terminal.js";
export { headline, nextSteps, verdictReasonText } from "./verdict-words.js";
