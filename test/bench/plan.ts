/**
 * Is the power that a plan promises true? `npm run bench:plan [checks] [cell]`
 *
 * For each cell a plan is made from a quiet recording; then so many checks are simulated as planned and judged. The share
 * that responded must lie within 2 points of the promise.
 */
import { rateInterval } from "./distributions.js";
import { cellPlan, PLAN_CELLS, runCheck } from "./plan-trial.js";
import { tellRatio } from "./ratio-line.js";

const checkCount = Number(process.argv[2] ?? 1000);
const wanted = process.argv[3] ?? "";
const percent = (share: number) => (100 * share).toFixed(1);
console.log(`${checkCount} checks a cell; limits of the found share at 95 % (Clopper and Pearson)`);
console.log("| cell | load | switchings | promised % | found % | difference | processor time a check, s |");
console.log("|---|---|---|---|---|---|---|");
for (const cell of PLAN_CELLS.filter(({ name }) => name.includes(wanted))) {
  const plan = cellPlan(cell, 1);
  const found = cell.loads.map(() => 0);
  const startedUs = process.cpuUsage().user;
  for (let k = 0; k < checkCount; k++) {
    runCheck(cell, plan, 1000 + k).forEach((responded, i) => {
      if (responded) found[i]! += 1;
    });
  }
  const eachS = (process.cpuUsage().user - startedUs) / 1e6 / checkCount;
  plan.items.forEach(({ load, needle }, i) => {
    const share = found[i]! / checkCount;
    const { low, high } = rateInterval(found[i]!, checkCount);
    const promise = needle?.predictedPower ?? 0;
    const kind = cell.loads[i]!.kind;
    tellRatio({
      what: `${cell.name}, ${load.id}: checks that responded`,
      measured: `${percent(share)} [${percent(low)}, ${percent(high)}] %`,
      reference: `promised, ${percent(promise)} %`,
      ratio: share / promise,
      target: "within 2 points",
    });
    console.log(
      `| ${cell.name} | ${load.id} (${kind}) | ${needle?.pattern?.onS.length ?? 0} | ${percent(promise)} | ${percent(share)} [${percent(low)}, ${percent(high)}] | ${percent(share - promise)} | ${eachS.toFixed(2)} |`,
    );
  });
}
