import { inputErrorFrom } from "../../src/cli/history-store.js";
import { InputError } from "../../src/importers/input-error.js";
import type { FuzzTarget } from "./fuzz-target.js";
import { checkSentence } from "./oracle.js";

/** Each target by its name, loaded only when it is asked for. */
export const TARGETS: Readonly<Record<string, () => Promise<FuzzTarget>>> = {
  csv: async () => (await import("./text-targets.js")).csvTarget,
  gzip: async () => (await import("./text-targets.js")).packedLogTarget,
  profile: async () => (await import("./text-targets.js")).profileTarget,
  marks: async () => (await import("./text-targets.js")).marksTarget,
  sheet: async () => (await import("./text-targets.js")).sheetTarget,
  dial: async () => (await import("./text-targets.js")).dialTarget,
  columns: async () => (await import("./text-targets.js")).columnsTarget,
  judge: async () => (await import("./judge-target.js")).judgeTarget,
  result: async () => (await import("./record-targets.js")).resultTarget,
  report: async () => (await import("./record-targets.js")).reportTarget,
  history: async () => (await import("./record-targets.js")).historyTarget,
  video: async () => (await import("./video-target.js")).videoTarget,
  cli: async () => (await import("./cli-target.js")).cliTarget,
};

/** Runs one input; the kind of its outcome. @throws whatever is neither an answer nor a refusal in one sentence. */
export async function tryInput(target: FuzzTarget, input: Uint8Array, path: string): Promise<string> {
  try {
    return await target.run(input, path);
  } catch (thrown) {
    const fault = inputErrorFrom(thrown);
    if (fault instanceof InputError) return checkSentence(fault.message);
    throw fault;
  }
}
