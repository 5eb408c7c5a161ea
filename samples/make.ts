/** Writes the sample recordings, their marks and the truth behind them beside this file: `npx tsx samples/make.ts`. */
import { writeFileSync } from "node:fs";
import { samplePlans } from "./sample-plans.js";
import { makeSample } from "./simulator/sample-recording.js";

const folder = new URL(".", import.meta.url);
const samples = samplePlans.map(makeSample);
for (const { files } of samples) {
  for (const [name, text] of files) writeFileSync(new URL(name, folder), text);
}
const truth = samples.map((sample) => sample.truth);
writeFileSync(new URL("truth.json", folder), `${JSON.stringify(truth, null, 2)}\n`);
