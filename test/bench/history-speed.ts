/**
 * Time of `trend` on a history of 100,000 recordings of 500 batteries: one battery, and the fleet.
 * Run: npm run bench:history-speed
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { batteryStory, fleetStories } from "../../src/cli/trend-stories.js";
import { randomGenerator } from "../../src/core/statistics/random.js";
import { openHistory, type RecordingEntry } from "../../src/history/index.js";
import { flightRecord } from "./flight-record.js";
import { tellRatio } from "./ratio-line.js";

const BATTERIES = Number(process.env.BATTERIES ?? 500);
const FLIGHTS = 200;
const folder = mkdtempSync(join(tmpdir(), "busdip-speed-"));
const location = { kind: "file" as const, path: join(folder, "history.db") };
const generator = randomGenerator(9);

function entriesOf(battery: number): RecordingEntry[] {
  // Every tenth battery ages from some flight on.
  const onset = battery % 10 === 0 ? 150 * generator.uniform() : FLIGHTS;
  const departure = (index: number) => Math.max(0, index - onset) * 0.1;
  const z = flightRecord({ flightCount: FLIGHTS, phi: 0.3, outlierShare: 0.02, departure }, generator);
  const level = 0.008 + 0.004 * generator.uniform();
  return Array.from(z, (each, flight): RecordingEntry => {
    const value = level * Math.exp(0.08 * each);
    const plain = { low: null, high: null, coverage: null, route: null };
    return {
      hash: (battery * FLIGHTS + flight).toString(16).padStart(64, "0"),
      battery: `B-${String(battery).padStart(4, "0")}`,
      aircraft: `ICE-${battery}`,
      bus: "essential",
      atS: 1.7e9 + 259_200 * flight,
      source: "simulated.csv",
      sampleCount: 450,
      durationS: 45,
      sampleRateHz: 10,
      sigmaV: 0.02,
      temperatureC: null,
      stateOfCharge: null,
      requiredEnduranceMin: 30,
      report: null,
      software: null,
      remark: null,
      dips: [],
      estimates: [
        { quantity: "source-resistance", load: null, afterS: 1, value: value + 0.003, u: 0.05 * value, ...plain },
        { quantity: "internal-resistance", load: null, afterS: 1, value, u: 0.06 * value, ...plain },
        {
          quantity: "load-current",
          load: "probe-heat-a",
          afterS: null,
          value: 5.7 * Math.exp(0.04 * generator.normal()),
          u: 0.2,
          ...plain,
        },
      ],
      answers: [],
      notes: [],
    };
  });
}

/** Elapsed time, and time of the processor: on a machine that others use the first says little. */
function seconds(work: () => unknown): { readonly elapsedS: number; readonly processorS: number } {
  const start = process.hrtime.bigint();
  const before = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(before);
  return { elapsedS: Number(process.hrtime.bigint() - start) / 1e9, processorS: (user + system) / 1e6 };
}

const filling = openHistory(location, { make: true });
const filledS = seconds(() => {
  for (let battery = 0; battery < BATTERIES; battery++) {
    filling.addAll({ batteries: [], installations: [], recordings: entriesOf(battery) });
  }
});
filling.close();
console.log(`${BATTERIES * FLIGHTS} recordings of ${BATTERIES} batteries added in ${filledS.elapsedS.toFixed(0)} s`);

for (let round = 0; round < 3; round++) {
  const history = openHistory(location, { make: false });
  const oneS = seconds(() => batteryStory(history, "B-0010", {}, 1.75e9));
  const fleetS = seconds(() => fleetStories(history, {}, 1.75e9));
  history.close();
  const text = ({ elapsedS, processorS }: typeof oneS) =>
    `${elapsedS.toFixed(2)} s elapsed, ${processorS.toFixed(2)} s of the processor`;
  if (round === 2) {
    const tell = (what: string, { processorS }: typeof oneS, targetS: number): void =>
      tellRatio({
        what: `trend of ${what}, ${BATTERIES * FLIGHTS} recordings kept`,
        measured: `${processorS.toFixed(2)} s of processor time`,
        reference: `adding them, ${filledS.processorS.toFixed(1)} s`,
        ratio: processorS / filledS.processorS,
        target: `${targetS} s with 100,000`,
      });
    tell("one battery", oneS, 0.5);
    tell("the fleet", fleetS, 3);
  }
  console.log(`one battery ${text(oneS)} (target 0.5 s); fleet ${text(fleetS)} (target 3 s)`);
}
if (process.env.KEEP === undefined) rmSync(folder, { recursive: true, force: true });
else console.log(location.path);
