/** Makes one simulated clip with its truth beside it: `npx tsx samples/footage/make.ts calm clip.mp4 [changes as JSON]`. */
import { writeFileSync } from "node:fs";
import { CONDITIONS, type ConditionName, type FootagePlan, footagePlan } from "./footage-plan.js";
import { makeClip } from "./make-clip.js";

const [condition = "", path, changes = "{}"] = process.argv.slice(2);
if (!(condition in CONDITIONS) || path === undefined) {
  process.stderr.write(`give a condition (${Object.keys(CONDITIONS).join(", ")}) and the clip's file\n`);
  process.exit(2);
}
const truth = await makeClip(
  footagePlan(condition as ConditionName, JSON.parse(changes) as Partial<FootagePlan>),
  path,
);
writeFileSync(`${path}.truth.json`, `${JSON.stringify(truth)}\n`);
const rows = truth.timesS.map((timeS, k) => `${timeS},${truth.volts[k]},${truth.anglesDeg[k]}`);
writeFileSync(`${path}.truth.csv`, `time_s,needle_V,angle_deg\n${rows.join("\n")}\n`);
