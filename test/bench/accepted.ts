/**
 * Do the intervals of faint dips hold the truth where the load was called `responded`?
 * `npx tsx test/bench/accepted.ts [cells] [recordings] [depths in bounds] [first seed] [nothing|marked]`
 *
 * A dip that is called `responded` was lucky on the average, the more so the fainter it is. The source resistance is told
 * as it is, so that depth and current rest on the same dips.
 */
import { analyze, type BusProfile, type Quantity, type Unit } from "../../src/core/index.js";
import { depthBoundV } from "./bounds.js";
import { type CellName, cellNames } from "./cells.js";
import { rateInterval } from "./distributions.js";
import { LOAD_ID, type SimulatedRecording, simulateRecording, withDepth } from "./simulate.js";

const [cells = "W,F", recordings = "60", depths = "4.5,5.5", first = "610001", mode = "nothing"] =
  process.argv.slice(2);
const OHMIC_OHM = 0.012;
const PATH_OHM = 0.003;

console.log(
  "| cell | dip, bounds | responded | depths inside 95 %, % | currents inside, % | mean error, uncertainties | single dips inside, % | their mean error |",
);
console.log("|---|---|---|---|---|---|---|---|");
for (const cell of cellNames(cells)) for (const depth of depths.split(",")) tell(cell, Number(depth));

function tell(cell: CellName, depthBounds: number): void {
  const told: { readonly depth: Told; readonly current: Told }[] = [];
  const dips: Told[] = [];
  for (let seed = Number(first); seed < Number(first) + Number(recordings); seed++) {
    const empty = simulateRecording(cell, { seed, depthV: 0, marks: mode === "marked" ? "exact" : "none" });
    const recording = withDepth(empty, depthBounds * depthBoundV(empty));
    const { timesS, voltagesV, marks, depthV } = recording;
    const analysis = analyze({ timesS, voltagesV }, { marks, profile: profileOf(recording) });
    const [load] = analysis.loads;
    if (load?.verdict !== "responded" || load.depth === null || load.current === null) continue;
    told.push({
      depth: { truth: depthV, quantity: load.depth },
      current: { truth: depthV / (OHMIC_OHM + PATH_OHM), quantity: load.current },
    });
    // A searched train may hold places where nothing was switched, whose truth is another.
    const real = analysis.dips.filter(({ onsetS }) => recording.onTimes.some(({ onS }) => Math.abs(onS - onsetS) < 2));
    dips.push(...real.map(({ depth: quantity }) => ({ truth: depthV, quantity })));
  }
  const depths = told.map(({ depth }) => depth);
  const columns = [
    cell,
    depthBounds,
    `${told.length} of ${recordings}`,
    inside(depths),
    inside(told.map(({ current }) => current)),
    meanError(depths),
    inside(dips),
    meanError(dips),
  ];
  console.log(`| ${columns.join(" | ")} |`);
}

interface Told {
  readonly truth: number;
  readonly quantity: Quantity<Unit>;
}

function inside(told: readonly Told[]): string {
  const held = told.filter(({ truth, quantity: { low, high } }) => truth >= low && truth <= high).length;
  const { low, high } = rateInterval(held, told.length);
  return `${(100 * (held / told.length)).toFixed(1)} [${(100 * low).toFixed(1)}, ${(100 * high).toFixed(1)}]`;
}

function meanError(told: readonly Told[]): string {
  const sum = told.reduce((total, { truth, quantity: { value, u } }) => total + (value - truth) / u, 0);
  return (sum / told.length).toFixed(2);
}

/** The battery's resistance one second after a step, as the recording's own polarisation makes it. */
function profileOf({ shape }: SimulatedRecording): BusProfile {
  const grown = 1 + shape.polarization * -Math.expm1(-1 / shape.polarizationTimeS);
  const value = (OHMIC_OHM + PATH_OHM) * grown - PATH_OHM;
  return {
    battery: { resistanceOhm: { value, u: 1e-5 } },
    pathResistanceOhm: { value: PATH_OHM, u: 1e-5 },
    loads: [{ id: LOAD_ID, kind: "heater", reference: false }],
  };
}
