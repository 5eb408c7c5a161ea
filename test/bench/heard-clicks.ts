/**
 * Clicks that are heard where none is: `npx tsx test/bench/heard-clicks.ts MINUTES SEED`, in so much noise, and in so much
 * speech-like sound, minute by minute.
 */
import { switchClicks } from "../../src/importers/video/audio/switch-clicks.js";
import { noise, RATE_HZ, speech } from "../importers/video/audio/drawn-sounds.js";

const [minutes, firstSeed] = [Number(process.argv[2] ?? 60), Number(process.argv[3] ?? 5000)];

for (const [name, drawn] of [
  ["noise", noise],
  ["speech-like sound", speech],
] as const) {
  let heard = 0;
  for (let k = 0; k < minutes; k++) {
    heard += switchClicks({ sampleRateHz: RATE_HZ, startS: 0, samples: drawn(60, firstSeed + 7 * k) }).length;
  }
  process.stdout.write(`${name}: ${heard} clicks in ${minutes} minutes\n`);
}
