/**
 * What a search for dips at unknown times loses, part by part: `npx tsx test/bench/search-parts.ts W,A,F RECORDINGS SEED`.
 *
 * Scores are those of the cell's own dip, 20 bounds deep, without noise of its own, in the noise that the search finds in a
 * recording without a dip; 20 is what one who knows the noise scores.
 */
import { scanTrains } from "../../src/core/detection/best-train.js";
import { scanProbability } from "../../src/core/detection/clump-probability.js";
import { edgeField } from "../../src/core/detection/edge-field.js";
import { matchedScores } from "../../src/core/detection/matched-scores.js";
import { ReadingsDesign } from "../../src/core/detection/readings-design.js";
import { searchNoise } from "../../src/core/detection/search-noise.js";
import { searchSeries } from "../../src/core/detection/search-series.js";
import { dipTemplate } from "../../src/core/detection/switching-template.js";
import { openBank } from "../../src/core/detection/train-bank.js";
import { randomGenerator } from "../../src/core/statistics/random.js";
import { depthBoundV } from "./bounds.js";
import { type CellName, cellNames } from "./cells.js";
import { FIRST_SCAN_SEED, scanMaxima } from "./scan-threshold.js";
import { simulateRecording } from "./simulate.js";
import { meanOf, tailQuantile } from "./statistics.js";

const [count, firstSeed] = [Number(process.argv[3] ?? 8), Number(process.argv[4] ?? 900_001)];
const SEARCHED = { shiftS: 0, lagS: 0.35, inrush: 0, settleS: 3, polarization: 0, polarizationS: 20 };

for (const cell of cellNames(process.argv[2] ?? "W,A,F")) {
  const seeds = Array.from({ length: 1000 }, (_, k) => FIRST_SCAN_SEED + k);
  const threshold = tailQuantile(scanMaxima({ cell, seeds }), 0.01);
  const parts = Array.from({ length: count }, (_, k) => partsOf(cell, firstSeed + k));
  const mean = (of: (one: (typeof parts)[number]) => number) => meanOf(parts.map(of)).toFixed(2);
  process.stdout.write(
    `${cell}: threshold at 1 % of the clairvoyant who knows the rhythm ${threshold.toFixed(2)}, ours ${mean((one) => one.critical)}; score of 20 by the search's noise ${mean((one) => one.own)}, by its shape and nearest rhythm too ${mean((one) => one.plain)}\n`,
  );
}

function partsOf(cell: CellName, seed: number) {
  const empty = simulateRecording(cell, { seed, depthV: 0, marks: "none" });
  const series = searchSeries({ timesS: empty.timesS, voltagesV: empty.voltagesV }, null)!;
  const { noise } = searchNoise(new ReadingsDesign(series), []);
  const field = edgeField(new ReadingsDesign(series), noise, SEARCHED.lagS, { templates: [], onTimes: [] });
  const bank = openBank(field.stepS);
  const { trainCounts } = scanTrains(field, bank)!;
  const options = { dof: Number.POSITIVE_INFINITY, random: randomGenerator(seed) };
  const depthV = 20 * depthBoundV(empty);
  const clean = { ...series, valuesV: empty.unitFall.map((fall) => 25 - depthV * fall) };
  const scoreOf = (template: Float64Array) => {
    const { columns } = new ReadingsDesign(clean).columns([], [template]);
    return matchedScores(clean, columns, { common: 2, templates: 1 }, noise, false).scores[0]!;
  };
  // On and off for the same time in these cells.
  const [first] = empty.onTimes;
  const wanted = (first!.offS - first!.onS) / field.stepS;
  const steps = Array.from({ length: 41 }, (_, k) => 0.05 * (k - 20));
  const plain = bank.rhythms
    .filter(({ onSteps, offSteps }) => Math.abs(onSteps - wanted) < 2 && Math.abs(offSteps - wanted) < 2)
    .flatMap(({ onSteps, offSteps }) => steps.map((shiftS) => ({ onSteps, offSteps, shiftS })))
    .map(({ onSteps, offSteps, shiftS }) => {
      const onTimes = empty.onTimes.map((_, k) => {
        const onsetS = first!.onS + shiftS + k * (onSteps + offSteps) * field.stepS;
        return { onsetS, releaseS: onsetS + onSteps * field.stepS };
      });
      return scoreOf(dipTemplate(clean.timesS, clean.blockS, onTimes, SEARCHED));
    });
  return {
    critical: scanProbability(field, bank, trainCounts, options).criticalRank(0.01),
    own: scoreOf(empty.unitFall.map((fall) => -fall)),
    plain: Math.max(...plain),
  };
}
