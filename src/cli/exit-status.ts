import type { Analysis } from "../core/index.js";

/** What the process tells its caller. */
export const EXIT_STATUS = {
  done: 0,
  /** The job ran and a load does not answer or an alarm stands; only with `--strict`. */
  finding: 1,
  badInput: 2,
  /** The program's own fault, as `EX_SOFTWARE` of BSD's sysexits. */
  ownFault: 70,
} as const;

/** The exit status of an analysis that ran. */
export function exitStatusOf(analysis: Analysis, strict: boolean): number {
  const silent = analysis.loads.some((load) => load.verdict === "no response");
  return strict && silent ? EXIT_STATUS.finding : EXIT_STATUS.done;
}
