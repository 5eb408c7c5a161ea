/**
 * What unequal times on and off gain where another load cycles on the same bus: `npm run bench:cycling [checks]`
 *
 * A dead load is switched in the plain beat and in the planned pattern; how often is it wrongly said to have responded?
 */
import { CYCLING, comparedPatterns, verdictBeside } from "./cycling-trial.js";

const count = Number(process.argv[2] ?? 200);
for (const [name, pattern] of Object.entries(comparedPatterns(CYCLING))) {
  for (const depthV of [0, 0.08]) {
    let responded = 0;
    for (let seed = 1; seed <= count; seed++) {
      if (verdictBeside(CYCLING, pattern, depthV, seed) === "responded") responded += 1;
    }
    const likeness = `likeness to a cycle ${pattern.cycleLikeness.toFixed(2)}, side lobe ${pattern.sideLobe.toFixed(2)}`;
    console.log(`${name.padEnd(8)} depth ${depthV} V: responded ${responded} of ${count} (${likeness})`);
  }
}
