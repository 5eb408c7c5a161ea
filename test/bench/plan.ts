/**
 * Is the power that a plan promises true? `npm run bench:plan [checks] [cell] [quiet recordings]`
 *
 * For each cell plans are made from so many quiet recordings (one unless told), and the checks are shared among them: each
 * is simulated as planned and judged. The share that responded must lie within 2 points of the mean promise. A quiet
 * recording that happens to be calm promises too much and one that is not too little, so several tell more of the plan,
 * and one tells of that recording's luck too.
 */
import { rateInterval } from "./distributions.js";
import { cellPlan, PLAN_CELLS, runCheck } from "./plan-trial.js";
import { tellRatio } from "./ratio-line.js";

const checkCount = Number(process.argv[2] ?? 1000);
const wanted = process.argv[3] ?? "";
const quietCount = Number(process.argv[4] ?? 1);
const percent = (share: number) => (100 * share).toFixed(1);
console.log(`${checkCount} checks a cell; limits of the found share at 95 % (Clopper and Pearson)`);
console.log("| cell | load | switchings | promised % | found % | difference | processor time a check, s |");
console.log("|---|---|---|---|---|---|---|");
for (const cell of PLAN_CELLS.filter(({ name }) => name.includes(wanted))) {
  const found = cell.loads.map(() => 0);
  const promised = cell.loads.map(() => 0);
  const switchings = cell.loads.map(() => new Set<number>());
  const eachCount = Math.ceil(checkCount / quietCount);
  const startedUs = process.cpuUsage().user;
  for (let quiet = 1; quiet <= quietCount; quiet++) {
    const plan = cellPlan(cell, quiet);
    plan.items.forEach(({ needle }, i) => {
      promised[i]! += (needle?.predictedPower ?? 0) / quietCount;
      switchings[i]!.add(needle?.pattern?.onS.length ?? 0);
    });
    for (let k = 0; k < eachCount; k++) {
      runCheck(cell, plan, 1000 * quiet + k).forEach((responded, i) => {
        if (responded) found[i]! += 1;
      });
    }
  }
  const count = eachCount * quietCount;
  const eachS = (process.cpuUsage().user - startedUs) / 1e6 / count;
  cell.loads.forEach(({ kind }, i) => {
    const share = found[i]! / count;
    const { low, high } = rateInterval(found[i]!, count);
    const counts = [...switchings[i]!].sort((a, b) => a - b).join(", ");
    tellRatio({
      what: `${cell.name}, load-${i + 1}: checks that responded`,
      measured: `${percent(share)} [${percent(low)}, ${percent(high)}] %`,
      reference: `promised, ${percent(promised[i]!)} %`,
      ratio: share / promised[i]!,
      target: "within 2 points",
    });
    console.log(
      `| ${cell.name} | load-${i + 1} (${kind}) | ${counts} | ${percent(promised[i]!)} | ${percent(share)} [${percent(low)}, ${percent(high)}] | ${percent(share - promised[i]!)} | ${eachS.toFixed(2)} |`,
    );
  });
}
