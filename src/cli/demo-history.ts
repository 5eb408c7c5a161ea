import { mkdir, rm } from "node:fs/promises";
import { join } from "node:path";
import { renderBatteryTrend, renderFleetTrend } from "../report/index.js";
import { importHistoryFile } from "./history-import.js";
import { terminalStyle } from "./terminal-style.js";
import { judgeTrends, writeReport } from "./trend.js";

/** The battery of the demo that ages. */
const AGEING = "B-0417";

/** Keeps the simulated flights in a history of the demo's own, writes the trend reports, and says what they say. */
export async function demoHistory(outputFolder: string, samplesFolder: string): Promise<string> {
  const folder = join(outputFolder, "ice-2-history");
  const store = join(folder, "history.db");
  await mkdir(folder, { recursive: true });
  // The demo begins with an empty history each time; the person's own history is not touched.
  for (const ending of ["", "-wal", "-shm"]) await rm(`${store}${ending}`, { force: true });
  const { added } = await importHistoryFile(join(samplesFolder, "history", "ice-2-history.json"), store);

  const fleet = await judgeTrends(undefined, { store });
  const fleetPath = await writeReport(fleet, join(folder, "fleet"));
  const one = await judgeTrends(AGEING, { store, out: join(folder, AGEING) });
  const onePath = await writeReport(one, join(folder, AGEING));
  return [
    `\n== ice-2-history: ${added} flights of two batteries, one of them ageing\n`,
    renderFleetTrend(fleet.stories, fleet.context, terminalStyle(fleetPath)),
    renderBatteryTrend(one.stories[0], one.context, terminalStyle(onePath)),
  ].join("\n");
}
