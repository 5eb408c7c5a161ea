import { type EverydayPlan, studyEveryday } from "./everyday-study.js";
import { runTrial, type TrialPlan } from "./trial.js";

export type Task =
  | { readonly kind: "trials"; readonly plan: TrialPlan; readonly seeds: readonly number[] }
  | { readonly kind: "everyday"; readonly plan: EverydayPlan };

export function perform(task: Task): unknown {
  return task.kind === "everyday" ? studyEveryday(task.plan) : task.seeds.map((seed) => runTrial(task.plan, seed));
}

// As a child of the bench: one task in, one result out.
if (process.argv[2] === "worker") {
  process.on("message", (task: Task) => process.send?.(perform(task)));
  process.on("disconnect", () => process.exit());
}
