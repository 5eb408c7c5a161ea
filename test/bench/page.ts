/**
 * The bench of the page: `npm run bench:page`, after a build, on Linux. Size of the first load, time until it can be used
 * on a processor slowed four times, and the reading of 20 s of 1080p against the command line's on the same clip.
 *
 * `-- --quick` leaves the clip out, which takes minutes to draw the first time. Other work on the machine stretches elapsed times; processor times stand beside them.
 */
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { cpus, loadavg } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { gzipSync } from "node:zlib";
import type { Page } from "playwright-core";
import { CONDITIONS, footagePlan } from "../../samples/footage/footage-plan.js";
import { makeClip } from "../../samples/footage/make-clip.js";
import { formatDial } from "../../src/importers/video/dial.js";
import { tellRatio } from "../bench/ratio-line.js";
import { choose } from "../page/page-steps.js";
import { DESK, emptyFolder, PHONE, startBrowser } from "../page/real-browser.js";
import { servePage } from "../page/served-page.js";

const { values } = parseArgs({ options: { quick: { type: "boolean", default: false } } });
const CLIP_S = 20;
const SLOWED = 4;
const TICKS_PER_S = 100;

const built = fileURLToPath(new URL("../../dist/page/", import.meta.url));
const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));
const folder = emptyFolder();
const browser = await startBrowser();
const served = await servePage("--store", join(folder.path, "history.db"));
print(`${cpus()[0]!.model}, ${cpus().length} cores, load ${loadavg()[0]!.toFixed(1)}, Node ${process.version}`);
await firstLoad();
await usableSlowed();
if (!values.quick) await readingOfClip();
await browser.close();
await served.stop();
folder.remove();

async function firstLoad(): Promise<void> {
  const context = await browser.newContext(PHONE);
  const page = await context.newPage();
  const paths = new Set<string>();
  context.on("request", (request) => {
    if (request.serviceWorker() === null) paths.add(new URL(request.url()).pathname);
  });
  await page.goto(served.address);
  await page.getByRole("heading", { level: 1 }).waitFor();
  const files = [...paths].filter((path) => !path.startsWith("/api/"));
  const bytes = files.map((path) => gzipSync(readFileSync(join(built, path === "/" ? "index.html" : path))).length);
  const kB = bytes.reduce((a, b) => a + b, 0) / 1000;
  tellRatio({
    what: "first load of the page, compressed",
    measured: `${kB.toFixed(0)} kB`,
    reference: "400 kB",
    ratio: kB / 400,
    target: "1",
  });
  print(`First load: ${(bytes.reduce((a, b) => a + b, 0) / 1000).toFixed(0)} kB compressed (at most 400)`);
  await context.close();
}

/** From the start of the visit until the choices stand there and the page is idle again; nothing kept from before. */
async function usableSlowed(): Promise<void> {
  const seconds: number[] = [];
  const ownWork: number[] = [];
  for (let k = 0; k < 5; k++) {
    const context = await browser.newContext({ ...PHONE, serviceWorkers: "block" });
    const page = await context.newPage();
    const tools = await context.newCDPSession(page);
    await tools.send("Performance.enable", { timeDomain: "threadTicks" });
    await tools.send("Emulation.setCPUThrottlingRate", { rate: SLOWED });
    await page.goto(served.address, { waitUntil: "commit" });
    const usableMs = await page.evaluate<number>(
      `new Promise((done) => {
        const look = () => document.querySelector(".choices button") === null
          ? requestAnimationFrame(look)
          : requestIdleCallback(() => done(performance.now()));
        look();
      })`,
    );
    seconds.push(usableMs / 1000);
    const { metrics } = await tools.send("Performance.getMetrics");
    ownWork.push(metrics.find(({ name }) => name === "TaskDuration")!.value);
    await context.close();
  }
  tellRatio({
    what: `page usable on a processor slowed ${SLOWED} times`,
    measured: `${median(seconds).toFixed(2)} s`,
    reference: `main thread's own work, ${median(ownWork).toFixed(2)} s`,
    ratio: median(seconds) / median(ownWork),
    target: "2 s",
  });
  print(
    `Usable on a processor slowed ${SLOWED} times: ${median(seconds).toFixed(2)} s (at most 2; five visits: ${seconds.map((s) => s.toFixed(2)).join(", ")}); main thread's processor time ${median(ownWork).toFixed(2)} s`,
  );
}

async function readingOfClip(): Promise<void> {
  const { clip, dial } = await clipOf1080();
  const context = await browser.newContext(DESK);
  const page = await context.newPage();
  page.setDefaultTimeout(600_000);
  await page.goto(served.address);
  await choose(page, "Choose a clip", clip);
  await page.locator(".dial .whole").waitFor();
  await choose(page, "Choose a dial file", dial);
  await page
    .locator(".shows")
    .getByText(/The needle shows/)
    .waitFor();
  await settled(page);
  const before = treeCpuS();
  const began = performance.now();
  await page.getByRole("button", { name: "Read the clip" }).click();
  await page.locator(".glance figcaption").waitFor();
  const elapsedS = (performance.now() - began) / 1000;
  const cpuS = treeCpuS() - before;
  await context.close();
  const line = commandLine(clip, dial);
  tellRatio({
    what: `${CLIP_S} s of 1080p read in the page`,
    measured: `${cpuS.toFixed(1)} s of processor time`,
    reference: `busdip film on the same clip, ${line.cpuS.toFixed(1)} s`,
    ratio: cpuS / line.cpuS,
    target: `${2 * CLIP_S} s elapsed`,
  });
  print(
    `${CLIP_S} s of 1080p in the page: ${elapsedS.toFixed(1)} s, ${(elapsedS / CLIP_S).toFixed(2)} x real time (at most 2); processor time ${cpuS.toFixed(1)} s, ${(cpuS / CLIP_S).toFixed(2)} x real time`,
  );
  print(
    `  the command line on the same clip: ${line.elapsedS.toFixed(1)} s, processor time ${line.cpuS.toFixed(1)} s; page over command line ${(elapsedS / line.elapsedS).toFixed(2)} elapsed, ${(cpuS / line.cpuS).toFixed(2)} of processor time`,
  );
}

async function settled(page: Page): Promise<void> {
  await page.waitForTimeout(1500);
}

function commandLine(clip: string, dial: string): { readonly elapsedS: number; readonly cpuS: number } {
  const began = performance.now();
  const childrenBefore = childrenCpuS();
  const { status } = spawnSync(process.execPath, [
    main,
    "film",
    clip,
    "--dial",
    dial,
    "--out",
    join(folder.path, "r.csv"),
  ]);
  if (status !== 0) throw new Error("busdip film failed");
  return { elapsedS: (performance.now() - began) / 1000, cpuS: childrenCpuS() - childrenBefore };
}

/** Processor time of children that have ended, from the kernel's own account of this process. */
function childrenCpuS(): number {
  const fields = statFields(process.pid)!;
  return (Number(fields[13]) + Number(fields[14])) / TICKS_PER_S;
}

/** Processor time of this program's descendants that are browsers. */
function treeCpuS(): number {
  const all = readdirSync("/proc")
    .filter((name) => /^\d+$/.test(name))
    .flatMap((name) => {
      const fields = statFields(Number(name));
      return fields === null ? [] : [{ pid: Number(name), parent: Number(fields[1]), fields }];
    });
  const wanted = new Set([process.pid]);
  for (let grown = true; grown; ) {
    grown = false;
    for (const { pid, parent } of all) {
      if (wanted.has(parent) && !wanted.has(pid)) {
        wanted.add(pid);
        grown = true;
      }
    }
  }
  wanted.delete(process.pid);
  const own = all.filter(({ pid }) => wanted.has(pid));
  return own.reduce((sum, { fields }) => sum + Number(fields[11]) + Number(fields[12]), 0) / TICKS_PER_S;
}

/** What stands after the name in a process's line, from its state on; null where it has ended. */
function statFields(pid: number): string[] | null {
  try {
    const text = readFileSync(`/proc/${pid}/stat`, "utf8");
    return text.slice(text.lastIndexOf(")") + 2).split(" ");
  } catch {
    return null;
  }
}

/** A simulated clip of 20 s at 1920 x 1080 and 30 frames a second; made once. */
async function clipOf1080(): Promise<{ readonly clip: string; readonly dial: string }> {
  mkdirSync(".bench", { recursive: true });
  const [clip, dial] = [".bench/page-1080.mp4", ".bench/page-1080.dial.yaml"];
  if (existsSync(clip) && existsSync(dial)) return { clip, dial };
  const plan = footagePlan("calm", {
    name: "bench-page",
    seed: 8,
    style: "ice-2-panel",
    durationS: CLIP_S,
    frameRateHz: 30,
    width: 1920,
    height: 1080,
    radiusPx: 380,
    light: { ...CONDITIONS.calm.light, noise: 1.5 },
    container: { codec: "libx264", bitDepth: 8, bitsPerS: 12e6, extension: "mp4", rotationDeg: 0 },
  });
  const { still } = await makeClip(plan, clip);
  const marks = still.marks.map(({ volts, x, y }) => ({ x, y, volts }));
  writeFileSync(
    dial,
    formatDial({ still: { timeS: still.timeS, width: plan.width, height: plan.height }, pivot: still.pivot, marks }),
  );
  return { clip, dial };
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}

function print(line: string): void {
  process.stdout.write(`${line}\n`);
}
