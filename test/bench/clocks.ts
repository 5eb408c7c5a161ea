/** Prints how well two clocks are aligned, over simulated pairs of logs: `tsx test/bench/clocks.ts [pairs per row]`. */
import { alignClocks, LARGEST_COINCIDENCE } from "../../src/core/series/clock-alignment.js";
import { randomGenerator } from "../../src/core/statistics/random.js";
import { clockPair, EVERYDAY, type PairSettings } from "../core/series/clock-pairs.js";
import { tellRatio } from "./ratio-line.js";

const pairCount = Number(process.argv[2] ?? 300);
const rows: readonly (readonly [name: string, settings: PairSettings])[] = [
  ["10 Hz / 4 Hz, lag 0.3 s", EVERYDAY],
  ["no lag", { ...EVERYDAY, voltageLagS: 0 }],
  ["lag 0.6 s", { ...EVERYDAY, voltageLagS: 0.6 }],
  ["lag 0.6 s, told", { ...EVERYDAY, voltageLagS: 0.6, lagTold: true }],
  ["clean clamp", { ...EVERYDAY, noiseShareA: 0.01 }],
  ["clean clamp, no lag", { ...EVERYDAY, noiseShareA: 0.01, voltageLagS: 0 }],
  ["clamp late by up to a row", { ...EVERYDAY, clamp: "held", noiseShareA: 0.02 }],
  [
    "clamp holds, 10 Hz of 4 Hz",
    { ...EVERYDAY, currentRateHz: 10, clamp: "held", conversionRateHz: 4, noiseShareA: 0.02 },
  ],
  ["clamp holds, 4 Hz of 2.5 Hz", { ...EVERYDAY, clamp: "held", conversionRateHz: 2.5, noiseShareA: 0.02 }],
  ["clamp gives means", { ...EVERYDAY, clamp: "mean", noiseShareA: 0.02 }],
  ["noise AR(1) 0.8", { ...EVERYDAY, correlation: 0.8 }],
  ["20 minutes", { ...EVERYDAY, durationS: 1200 }],
  ["20 minutes, 12 switchings", { ...EVERYDAY, durationS: 1200, switchingCount: 12 }],
  ["100 Hz / 10 Hz", { ...EVERYDAY, voltageRateHz: 100, currentRateHz: 10 }],
  ["2 Hz / 5 Hz", { ...EVERYDAY, voltageRateHz: 2, currentRateHz: 5 }],
  ["10 Hz / 1 Hz", { ...EVERYDAY, currentRateHz: 1, noiseShareA: 0.05 }],
  ["1 Hz / 1 Hz", { ...EVERYDAY, voltageRateHz: 1, currentRateHz: 1, noiseShareV: 0.1, noiseShareA: 0.05 }],
  ["two switchings", { ...EVERYDAY, switchingCount: 2 }],
  ["clean, two switchings", { ...EVERYDAY, switchingCount: 2, noiseShareV: 0.05, noiseShareA: 0.02 }],
  ["an even rhythm", { ...EVERYDAY, rhythmSpreadS: 0 }],
  ["unrelated switchings", { ...EVERYDAY, unrelated: true }],
  ["unrelated, clean", { ...EVERYDAY, unrelated: true, noiseShareV: 0.05, noiseShareA: 0.02 }],
  ["unrelated, five and three", { ...EVERYDAY, unrelated: true, unrelatedCount: 5 }],
  ["unrelated, an even rhythm", { ...EVERYDAY, unrelated: true, rhythmSpreadS: 0.2 }],
  ["regular, first one missed", { ...EVERYDAY, switchingCount: 5, missedFirst: true, noiseShareA: 0.02 }],
];

console.log(
  "                              told  doubted  wrong  silent   bias ms    sd ms  sd/slower  mean u ms  in 95 %  reasons",
);
const only = process.argv[3] ?? "";
for (const [name, settings] of rows.filter(([rowName]) => rowName.includes(only))) {
  const random = randomGenerator(20260302);
  const errors: number[] = [];
  const us: number[] = [];
  const reasons = new Map<string, number>();
  let covered = 0;
  let [wrong, silent, doubted] = [0, 0, 0];
  for (let i = 0; i < pairCount; i += 1) {
    const pair = clockPair(settings, random);
    const found = alignClocks(
      pair.recording,
      pair.current,
      settings.lagTold === true ? { voltageLagS: settings.voltageLagS } : {},
    );
    if (!found.known) {
      reasons.set(found.reason, (reasons.get(found.reason) ?? 0) + 1);
      continue;
    }
    const errorS = found.referenceS + found.offsetS - pair.recordingTimeS(found.referenceS);
    if (settings.unrelated === true || Math.abs(errorS) > 1) {
      wrong += 1;
      if (found.coincidence <= LARGEST_COINCIDENCE) silent += 1;
      continue;
    }
    errors.push(errorS);
    if (found.coincidence > LARGEST_COINCIDENCE) doubted += 1;
    us.push(found.uOffsetS);
    const truthS = pair.recordingTimeS(found.referenceS) - found.referenceS;
    if (truthS >= found.lowS && truthS <= found.highS) covered += 1;
  }
  const mean = errors.reduce((a, b) => a + b, 0) / errors.length;
  const sd = Math.sqrt(errors.reduce((a, b) => a + (b - mean) ** 2, 0) / errors.length);
  const slowerS = 1 / Math.min(settings.voltageRateHz, settings.currentRateHz);
  const u = us.reduce((a, b) => a + b, 0) / us.length;
  const cells = [
    name.padEnd(28),
    String(errors.length).padStart(5),
    String(doubted).padStart(8),
    String(wrong).padStart(6),
    String(silent).padStart(7),
    (1000 * mean).toFixed(1).padStart(9),
    (1000 * sd).toFixed(1).padStart(8),
    (sd / slowerS).toFixed(3).padStart(10),
    (1000 * u).toFixed(1).padStart(10),
    ((100 * covered) / errors.length).toFixed(1).padStart(8),
    ` ${[...reasons].map(([reason, count]) => `${reason} ${count}`).join(", ")}`,
  ];
  console.log(cells.join(" "));
  if (errors.length > 0)
    tellRatio({
      what: `${name}: offset of two clocks, ${errors.length} of ${pairCount} pairs told, ${wrong} wrong, ${silent} silent`,
      measured: `sd ${(1000 * sd).toFixed(0)} ms, ${((100 * covered) / errors.length).toFixed(0)} % within the 95 % interval`,
      reference: `slower sampling interval, ${(1000 * slowerS).toFixed(0)} ms`,
      ratio: sd / slowerS,
      target: "0.35",
    });
}
