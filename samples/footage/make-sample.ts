/** Writes the committed clip, the dial on its still and its truth again: `npx tsx samples/footage/make-sample.ts`. */
import { writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { formatDial } from "../../src/importers/video/dial.js";
import { CONDITIONS, footagePlan } from "./footage-plan.js";
import { makeClip } from "./make-clip.js";

const plan = footagePlan("calm", {
  name: "ice-2-panel",
  seed: 20260306,
  style: "ice-2-panel",
  durationS: 18,
  width: 1280,
  height: 720,
  radiusPx: 250,
  light: { ...CONDITIONS.calm.light, noise: 1.5 },
  timing: { firstStampS: 0, jitterS: 0.002, droppedShare: 0.01 },
  bus: {
    openCircuitV: 24.6,
    slopeVPerS: -0.002,
    needleHz: 2.2,
    needleDamping: 0.65,
    dips: [2.6, 7.7, 12.8].map((onS) => ({ onS, offS: onS + 2.5, depthV: 0.21 })),
  },
  sound: { clickDb: -24, noiseDb: -46, noise: "fan", startS: 0, codec: "aac" },
  container: { codec: "libx264", bitDepth: 8, bitsPerS: 1.1e6, extension: "mp4", rotationDeg: 0 },
});

const folder = new URL("..", import.meta.url);
const clip = fileURLToPath(new URL("ice-2-panel.mp4", folder));
const { still, switchings } = await makeClip(plan, clip);
const tenth = (value: number) => Math.round(10 * value) / 10;
const place = ({ x, y }: { x: number; y: number }) => ({ x: tenth(x), y: tenth(y) });
const dial = formatDial({
  still: { timeS: Math.round(1000 * still.timeS) / 1000, width: plan.width, height: plan.height },
  pivot: place(still.pivot),
  marks: still.marks.map(({ volts, ...at }) => ({ ...place(at), volts })),
});
writeFileSync(
  new URL("ice-2-panel.dial.yaml", folder),
  `# Simulated; marks as a careful person would set them.\n${dial}`,
);
process.stdout.write(`${JSON.stringify(switchings)}\n`);
