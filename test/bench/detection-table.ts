import type { CellReport, Rate } from "./report-cell.js";
import type { Measured } from "./statistics.js";

/** Prints the figures of all cells; each with its 95 % limits in brackets. */
export function printTable(
  reports: readonly CellReport[],
  { falseAlarmRate, power }: { readonly falseAlarmRate: number; readonly power: number },
): void {
  const lines = [
    `False alarms at nominal ${100 * falseAlarmRate} % per recording; losses and minimum detectable depth at ${100 * power} % power; 95 % limits in brackets.`,
    "",
    ...table(
      [
        "cell",
        "told",
        "loss dB",
        "learner dB",
        "false alarms %",
        "MDV pred/meas",
        "depth RMSE/bound",
        "/shape-free",
        "bias/bound",
        "cover %",
        "accepted %",
        "onset/bound",
        "/shape-free",
        "wrong NR %",
        "ms",
      ],
      reports.map((report) => [
        report.cell,
        told(report),
        measured(report.lossDb, 2),
        measured(report.learnerLossDb, 2),
        percent(report.falseAlarms),
        measured(report.predictedOverMeasured, 2),
        measured(report.depthErrorOverBound, 2),
        measured(report.depthErrorOverShapeFree, 2),
        measured(report.depthBiasOverBound, 2),
        percent(report.coverage),
        percent(report.acceptedCoverage),
        measured(report.onsetErrorOverBound, 2),
        measured(report.onsetErrorOverShapeFree, 2),
        percent(report.wrongNoResponse),
        (1000 * report.secondsPerJudgement).toFixed(1),
      ]),
    ),
  ];
  if (reports.some(({ everydayLoss }) => everydayLoss.length > 0)) lines.push("", ...everydayTable(reports));
  lines.push("", ...reports.map(worstLine));
  process.stdout.write(`${lines.join("\n")}\n`);
}

function everydayTable(reports: readonly CellReport[]): string[] {
  const rows = reports.flatMap((report) => [
    [report.cell, told(report), "ours", "", measured(report.lossDb, 2), percent(report.falseAlarms)],
    ...report.everydayLoss.map((way) => [
      report.cell,
      told(report),
      way.family,
      way.settings,
      measured(way.lossDb, 2),
      percent(way.falseAlarms),
    ]),
  ]);
  return table(["cell", "told", "way", "best settings", "loss dB", "false alarms %"], rows);
}

function worstLine({ cell, worst, ...report }: CellReport): string {
  const found = worst.deepestFound.map(({ seed, overClairvoyant }) => `${seed} (+${overClairvoyant.toFixed(1)})`);
  const missed = worst.missedCoverage.map(({ seed, errorOverU }) => `${seed} (${errorOverU.toFixed(1)})`);
  return [
    `${cell} ${told({ cell, worst, ...report })} seeds:`,
    `false alarms ${worst.falseAlarmSeeds.slice(0, 12).join(" ") || "none"};`,
    `found late (sigma over the clairvoyant) ${found.join(" ") || "-"};`,
    `interval missed (error/u) ${missed.join(" ") || "none"};`,
    `wrong no response ${worst.wrongNoResponseSeeds.slice(0, 12).join(" ") || "none"};`,
    `threw ${worst.failures.map(({ seed, depthV, message }) => `${seed} at ${depthV.toFixed(3)} V "${message}"`).join(", ") || "never"}`,
  ].join(" ");
}

function told({ knowledge, marks }: CellReport): string {
  return knowledge === "marked" ? `marks ${marks}` : knowledge;
}

function measured(figure: Measured | null, decimals: number): string {
  if (figure === null || Number.isNaN(figure.value)) return "-";
  const show = (value: number) => (Number.isFinite(value) ? value.toFixed(decimals) : "inf");
  return `${show(figure.value)} [${show(figure.low)}, ${show(figure.high)}]`;
}

function percent(rate: Rate | null): string {
  if (rate === null || rate.total === 0) return "-";
  const show = (value: number) => (100 * value).toFixed(1);
  return `${show(rate.value)} [${show(rate.low)}, ${show(rate.high)}]`;
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): string[] {
  const widths = head.map((word, c) => Math.max(word.length, ...rows.map((row) => row[c].length)));
  const line = (row: readonly string[]) =>
    row
      .map((word, c) => word.padEnd(widths[c]))
      .join("  ")
      .trimEnd();
  return [line(head), widths.map((width) => "-".repeat(width)).join("  "), ...rows.map(line)];
}
