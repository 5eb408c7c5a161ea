import { type EverydayPlan, studyEveryday } from "./everyday-study.js";
import { type ScanPlan, scanMaxima } from "./scan-threshold.js";
import { runTrial, type TrialPlan } from "./trial.js";

export type Task =
  | { readonly kind: "trials"; readonly plan: TrialPlan; readonly seeds: readonly number[] }
  | { readonly kind: "scan"; readonly plan: ScanPlan }
  | { readonly kind: "everyday"; readonly plan: EverydayPlan };

export function perform(task: Task): unknown {
  if (task.kind === "everyday") return studyEveryday(task.plan);
  if (task.kind === "scan") return scanMaxima(task.plan);
  return task.seeds.map((seed) => runTrial(task.plan, seed));
}

// As a child of the bench: one task in, one result out.
if (process.argv[2] === "worker") {
  process.on("message", (task: Task) => process.send?.(perform(task)));
  process.on("disconnect", () => process.exit());
}
