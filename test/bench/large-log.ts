/**
 * Writes a log of one gigabyte and analyzes it as a person would, printing time and peak memory:
 * `tsx test/bench/large-log.ts [gigabytes]`. Needs `npm run build` first. Not part of `npm test`.
 */
import { spawn } from "node:child_process";
import { createWriteStream, mkdtempSync, readFileSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const LIMIT_BYTES = 1.5e9;
const gigabytes = Number(process.argv[2] ?? 1);
const folder = mkdtempSync(join(tmpdir(), "large-log-"));

/** Ten thousand readings a second: a bus at 25.2 V with a load of 0.12 V switched on for 5 s of every 20 s. */
async function writeLog(path: string): Promise<number> {
  const stream = createWriteStream(path);
  let state = 1;
  let [written, row, text] = [0, 0, "time_s,voltage_V,current_A\n"];
  while (written < gigabytes * 1e9) {
    state = (Math.imul(state, 1103515245) + 12345) & 0x7fffffff;
    const noise = state / 0x7fffffff - 0.5;
    const on = row % 200_000 >= 100_000 && row % 200_000 < 150_000;
    text += `${(row / 10_000).toFixed(4)},${(25.2 - (on ? 0.12 : 0) + 0.05 * noise).toFixed(4)},${on ? "5.700" : "0.000"}\n`;
    row += 1;
    if (text.length < 1 << 20) continue;
    written += text.length;
    if (!stream.write(text)) await new Promise<void>((go) => stream.once("drain", go));
    text = "";
  }
  await new Promise<void>((done) => stream.end(text, done));
  return row;
}

/** Peak resident memory of a process while it runs, from the kernel's own count. */
function peakBytes(pid: number): number {
  try {
    const found = /VmHWM:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, "utf8"));
    return found === null ? 0 : Number(found[1]) * 1024;
  } catch {
    return 0;
  }
}

try {
  const path = join(folder, "large.csv");
  const rowCount = await writeLog(path);
  const size = statSync(path).size;
  const start = performance.now();
  const job = spawn(process.execPath, ["dist/cli/main.js", "analyze", path, "--out", join(folder, "out")], {
    stdio: "inherit",
  });
  let peak = 0;
  const watch = setInterval(() => {
    peak = Math.max(peak, peakBytes(job.pid!));
  }, 50);
  const status = await new Promise<number | null>((done) => job.on("exit", done));
  clearInterval(watch);
  const seconds = (performance.now() - start) / 1000;
  console.log(
    `${rowCount} rows, ${(size / 1e9).toFixed(2)} GB: status ${status}, ${seconds.toFixed(1)} s, ` +
      `peak ${(peak / 1e6).toFixed(0)} MB of ${LIMIT_BYTES / 1e6} MB allowed`,
  );
  process.exitCode = status === 0 && peak > 0 && peak <= LIMIT_BYTES ? 0 : 1;
} finally {
  rmSync(folder, { recursive: true });
}
