/** Clips of the bench: made by the footage generator in `samples/footage`, which shares no code with the reader. */
import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type ConditionName, type FootagePlan, footagePlan } from "../../../samples/footage/footage-plan.js";
import { type ClipTruth, makeClip } from "../../../samples/footage/make-clip.js";

/** Two small dips as the issue of the table asks for, and a large one that tells the gain. */
const BUS: FootagePlan["bus"] = {
  openCircuitV: 24.6,
  slopeVPerS: -0.002,
  needleHz: 2.2,
  needleDamping: 0.65,
  dips: [
    { onS: 1.0, offS: 2.4, depthV: 0.1 },
    { onS: 3.6, offS: 5.0, depthV: 0.3 },
    { onS: 6.2, offS: 7.6, depthV: 1.5 },
  ],
};

export interface BenchClip {
  readonly path: string;
  readonly plan: FootagePlan;
  readonly truth: Omit<ClipTruth, "plan">;
}

/** The clip of a cell; made once (about a quarter of a second of processor time a frame), then kept in `.bench/video`. */
export async function benchClip(condition: ConditionName, changes: Partial<FootagePlan> = {}): Promise<BenchClip> {
  const plan = footagePlan(condition, { durationS: 9, bus: BUS, ...changes });
  const folder = join(".bench", "video");
  mkdirSync(folder, { recursive: true });
  const name = `${plan.name}-${createHash("sha256").update(JSON.stringify(plan)).digest("hex").slice(0, 10)}`;
  const path = join(folder, `${name}.${plan.container.extension}`);
  const truthPath = `${path}.truth.json`;
  if (!existsSync(truthPath)) {
    const half = join(folder, `half-${name}.${plan.container.extension}`);
    const { plan: _, ...truth } = await makeClip(plan, half);
    renameSync(half, path);
    writeFileSync(truthPath, JSON.stringify(truth));
  }
  return { path, plan, truth: JSON.parse(readFileSync(truthPath, "utf8")) as BenchClip["truth"] };
}
