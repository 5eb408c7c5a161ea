import type { Recording, SwitchingMark } from "../../core/index.js";
import { InputError } from "../input-error.js";

/**
 * Refuses marks of which none can be judged; of some the analysis says so.
 *
 * @throws InputError where all marks lie outside the recording, or none within it says when a load went on
 */
export function refuseUnusableMarks(marks: readonly SwitchingMark[], { timesS }: Recording): void {
  if (marks.length === 0) return;
  const [startS, endS] = [timesS[0]!, timesS[timesS.length - 1]!];
  const within = marks.filter(({ timeS }) => timeS >= startS && timeS <= endS);
  if (within.some(({ timeS, action }) => action === "on" && timeS < endS)) return;
  if (within.length > 0) {
    throw new InputError({
      problem: "no mark within the recording says when a load went on",
      remedy: "mark when each load went on, and when it went off",
    });
  }
  const times = marks.map(({ timeS }) => timeS);
  const [first, last, start, end] = [Math.min(...times), Math.max(...times), startS, endS].map(tenths);
  throw new InputError({
    problem:
      marks.length === 1
        ? `the only mark, at ${first} s, lies outside the recording, which goes from ${start} s to ${end} s`
        : `all ${marks.length} marks, from ${first} s to ${last} s, lie outside the recording, which goes from ${start} s to ${end} s`,
    remedy: "mark seconds of the recording's own axis, or say with --marks-offset by how much the marks are off",
  });
}

function tenths(seconds: number): string {
  return String(Math.round(10 * seconds) / 10);
}
