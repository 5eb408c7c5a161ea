import type { JudgeAnswer, JudgeRequest } from "./judge-messages.js";

/** How a question to the thread beside the page ended. */
export type Outcome = Exclude<JudgeAnswer, { kind: "stage" }> | { readonly kind: "cancelled" };

/** Asks the thread beside the page; an abort ends the thread at once. */
export function ask(
  request: JudgeRequest,
  signal: AbortSignal,
  onStage: (stage: "reading" | "judging") => void = () => {},
): Promise<Outcome> {
  return new Promise((done) => {
    const thread = new Worker(new URL("./judge-worker.ts", import.meta.url), { type: "module" });
    const finish = (outcome: Outcome): void => {
      thread.terminate();
      done(outcome);
    };
    if (signal.aborted) finish({ kind: "cancelled" });
    signal.addEventListener("abort", () => finish({ kind: "cancelled" }), { once: true });
    thread.onmessage = ({ data }: MessageEvent<JudgeAnswer>) => {
      if (data.kind === "stage") onStage(data.stage);
      else finish(data);
    };
    thread.onerror = (event) => {
      event.preventDefault();
      finish({ kind: "fault", message: event.message || "the thread that judges could not be started" });
    };
    if (!signal.aborted) thread.postMessage(request);
  });
}
