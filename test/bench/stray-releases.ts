/**
 * Is a breaker that trips, or a load left on, told; and never where all went as marked? `npm run bench:releases [checks] [cell]`
 *
 * Three switchings marked by hand. "told" is the warning of a release beside its mark; "for good" that nothing came after.
 */
import { rateInterval } from "./distributions.js";
import { FATES, STRAY_CELLS, strayTrial } from "./stray-release-trial.js";

const count = Number(process.argv[2] ?? 200);
const wanted = process.argv[3] ?? "";
const wantedFate = process.argv[4] ?? "";
const shareOf = (times: number, all = count) => {
  if (all === 0) return "-";
  const { low, high } = rateInterval(times, all);
  return `${((100 * times) / all).toFixed(1)} [${(100 * low).toFixed(1)}, ${(100 * high).toFixed(1)}]`;
};
console.log(`${count} checks a row; shares in %, limits at 95 % (Clopper and Pearson)`);
console.log(
  "| noise | what the load did | told | release within 0.6 s | responded | of these not told and depth outside its interval | depth, mean |",
);
console.log("|---|---|---|---|---|---|---|");
for (const cell of STRAY_CELLS.filter(({ name }) => name.includes(wanted))) {
  for (const fate of FATES.filter((name) => name.includes(wantedFate))) {
    let [told, close, responded, silent, sumV] = [0, 0, 0, 0, 0];
    for (let seed = 1; seed <= count; seed++) {
      const { analysis, strayS, depthV } = strayTrial(cell, fate, seed);
      const warning = analysis.warnings.find(({ code }) => code === "stray-release");
      const load = analysis.loads[0]!;
      if (warning?.code === "stray-release") {
        told += 1;
        const end = fate === "left on" && warning.seenS === null;
        if (end || (strayS !== null && Math.abs((warning.seenS ?? 1e9) - strayS) < 0.6)) close += 1;
      }
      if (load.verdict !== "responded") continue;
      responded += 1;
      sumV += load.depth!.value;
      if (warning === undefined && (depthV < load.depth!.low || depthV > load.depth!.high)) silent += 1;
    }
    console.log(
      `| ${cell.name} | ${fate} | ${shareOf(told)} | ${shareOf(close, told)} | ${shareOf(responded)} | ${shareOf(silent, responded)} | ${(sumV / Math.max(1, responded)).toFixed(3)} of ${fate === "dead" ? 0 : cell.depthV} V |`,
    );
  }
}
