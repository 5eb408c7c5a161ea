import { type ChildProcess, fork } from "node:child_process";
import { fileURLToPath } from "node:url";
import { perform, type Task } from "./worker.js";

/** Performs the tasks, several at a time, and gives their results in order; `onDone` hears how many are finished. */
export async function performAll(
  tasks: readonly Task[],
  workerCount: number,
  onDone: (doneCount: number) => void,
): Promise<unknown[]> {
  const results: unknown[] = [];
  let doneCount = 0;
  if (workerCount <= 1) {
    for (const task of tasks) {
      results.push(perform(task));
      onDone(++doneCount);
    }
    return results;
  }
  let next = 0;
  const runOne = async () => {
    const file = fileURLToPath(new URL("./worker.ts", import.meta.url));
    const child = fork(file, ["worker"], { execArgv: ["--import", "tsx"], serialization: "advanced" });
    try {
      while (next < tasks.length) {
        const index = next++;
        results[index] = await answerOf(child, tasks[index]);
        onDone(++doneCount);
      }
    } finally {
      child.kill();
    }
  };
  await Promise.all(Array.from({ length: Math.min(workerCount, tasks.length) }, runOne));
  return results;
}

function answerOf(child: ChildProcess, task: Task): Promise<unknown> {
  return new Promise((resolve, reject) => {
    const fail = () => reject(new Error("A worker of the bench ended before its task was done"));
    child.once("exit", fail);
    child.once("message", (result) => {
      child.removeListener("exit", fail);
      resolve(result);
    });
    child.send(task);
  });
}
