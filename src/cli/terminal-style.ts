import type { TerminalStyle } from "../report/index.js";

/** What the terminal on stdout can show. */
export function terminalStyle(reportPath: string | undefined): TerminalStyle {
  const { stdout, env } = process;
  const locale = env.LC_ALL || env.LC_CTYPE || env.LANG || "";
  return {
    columns: stdout.columns ?? 80,
    // https://no-color.org: any value that is not empty.
    colour: stdout.isTTY === true && !env.NO_COLOR && env.TERM !== "dumb",
    ascii: locale !== "" && !/utf-?8/i.test(locale),
    ...(reportPath === undefined ? {} : { reportPath }),
  };
}
