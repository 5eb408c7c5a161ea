import { spawn, spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";

export interface ChildRun {
  readonly exitCode: number | null;
  readonly wallS: number;
  readonly cpuS: number;
  readonly peakMB: number;
}

/** Tells its own resource use on file descriptor 3 when it ends; Node only. */
const TELL = `data:text/javascript,${encodeURIComponent(
  'import { writeSync } from "node:fs"; process.on("exit", () => writeSync(3, JSON.stringify(process.resourceUsage())));',
)}`;

/** Runs a command and measures it: Node by its own account, others by sampling `/proc` every 10 ms. */
export function measuredChild(command: string, words: readonly string[]): Promise<ChildRun> {
  const isNode = command === process.execPath;
  const start = performance.now();
  const child = spawn(command, isNode ? ["--import", TELL, ...words] : words, {
    stdio: ["ignore", "ignore", "inherit", "pipe"],
  });
  let told = "";
  child.stdio[3]?.on("data", (bytes: Buffer) => {
    told += bytes.toString();
  });
  let sampledMB = 0;
  let sampledS = 0;
  const sampling = setInterval(() => {
    const usage = child.pid === undefined || isNode ? null : processUsage(child.pid);
    if (usage === null) return;
    sampledMB = Math.max(sampledMB, usage.peakMB);
    sampledS = Math.max(sampledS, usage.cpuS);
  }, 10);
  return new Promise((resolve, reject) => {
    child.once("error", reject);
    child.once("close", (exitCode) => {
      clearInterval(sampling);
      const wallS = (performance.now() - start) / 1000;
      if (told === "") return resolve({ exitCode, wallS, cpuS: sampledS, peakMB: sampledMB });
      const usage = JSON.parse(told) as NodeJS.ResourceUsage;
      const cpuS = (usage.userCPUTime + usage.systemCPUTime) / 1e6;
      resolve({ exitCode, wallS, cpuS, peakMB: usage.maxRSS / 1024 });
    });
  });
}

function processUsage(pid: number): { readonly cpuS: number; readonly peakMB: number } | null {
  try {
    const status = readFileSync(`/proc/${pid}/status`, "utf8");
    const fields = readFileSync(`/proc/${pid}/stat`, "utf8").split(") ")[1].split(" ");
    return {
      peakMB: Number(/VmHWM:\s*(\d+)/.exec(status)?.[1] ?? 0) / 1024,
      cpuS: (Number(fields[11]) + Number(fields[12])) / 100,
    };
  } catch {
    return null;
  }
}

/** The best reader of numbers that this machine's Python offers; null where it has none. */
export function pythonReference(): { readonly name: string; readonly program: string } | null {
  const candidates = [
    {
      module: "pandas",
      name: "python3 pandas.read_csv",
      program: "import pandas,sys; t=pandas.read_csv(sys.argv[1]); assert len(t)>1000",
    },
    {
      module: "numpy",
      name: "python3 numpy.loadtxt",
      program: "import numpy,sys; t=numpy.loadtxt(sys.argv[1],delimiter=',',skiprows=1); assert len(t)>1000",
    },
  ];
  return candidates.find(({ module }) => spawnSync("python3", ["-c", `import ${module}`]).status === 0) ?? null;
}
