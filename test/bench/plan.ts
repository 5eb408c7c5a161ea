/**
 * Is the power that a plan promises true? `npm run bench:plan [checks] [cell]`
 *
 * For each cell a plan is made from a quiet recording; then so many checks are simulated as planned and judged. The share
 * that responded must lie within 2 points of the promise.
 */
import { cellPlan, PLAN_CELLS, runCheck } from "./plan-trial.js";

const checkCount = Number(process.argv[2] ?? 1000);
const wanted = process.argv[3] ?? "";
console.log(`${checkCount} checks a cell; +- is the standard error of the share`);
for (const cell of PLAN_CELLS.filter(({ name }) => name.includes(wanted))) {
  const plan = cellPlan(cell, 1);
  const found = cell.loads.map(() => 0);
  for (let k = 0; k < checkCount; k++) {
    runCheck(cell, plan, 1000 + k).forEach((responded, i) => {
      if (responded) found[i]! += 1;
    });
  }
  plan.items.forEach(({ load, needle }, i) => {
    const share = found[i]! / checkCount;
    const error = Math.sqrt((share * (1 - share)) / checkCount);
    const times = needle?.pattern?.onS.length ?? 0;
    const promise = needle?.predictedPower ?? 0;
    console.log(
      `${cell.name.padEnd(22)} ${load.id} ${times} times  promised ${(100 * promise).toFixed(1)} %  found ${(100 * share).toFixed(1)} +- ${(100 * error).toFixed(1)} %  difference ${(100 * (share - promise)).toFixed(1)}`,
    );
  });
}
