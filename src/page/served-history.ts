import type { ResultJson } from "../report/result-schema.js";

/** A battery as the list of the history has it. */
export interface ServedBattery {
  readonly battery: string;
  readonly aircraft: string | null;
  readonly flightCount: number;
  readonly retiredOn: string | null;
  readonly status: string;
  /** What the trend says of it, in full sentences. */
  readonly sentences: readonly string[];
  readonly alarm: boolean;
}

export interface ServedRecording {
  readonly hash: string;
  readonly source: string;
  /** Seconds since 1970-01-01 UTC. */
  readonly atS: number;
}

/** What must be told beside a result when it is added. */
export interface AddedRecording {
  readonly result: ResultJson;
  /** ISO 8601 date or moment. */
  readonly date: string;
  readonly battery?: string;
  readonly aircraft?: string;
  readonly bus?: string;
  readonly temperatureC?: number;
  readonly stateOfCharge?: number;
}

/** The history of the server that this page came from. */
export interface ServedHistory {
  readonly place: string;
  /** Whether the one-time code of the terminal must be given first. */
  readonly locked: boolean;
  enter(code: string): Promise<void>;
  add(recording: AddedRecording): Promise<string>;
  batteries(): Promise<readonly ServedBattery[]>;
  recordings(battery: string): Promise<readonly ServedRecording[]>;
  reportAddress(battery: string | null): string;
}

/** The history behind this page; null where it was not served by `busdip page`. */
export async function servedHistory(): Promise<ServedHistory | null> {
  const answer = await fetch("./api/about").catch(() => null);
  if (answer?.ok !== true || answer.headers.get("content-type")?.startsWith("application/json") !== true) return null;
  const about = (await answer.json()) as {
    readonly program?: string;
    readonly place: string;
    readonly locked: boolean;
  };
  if (about.program !== "busdip") return null;
  return {
    place: about.place,
    locked: about.locked,
    enter: async (code) => void (await ask("enter", { code })),
    add: async (recording) => ((await ask("recordings", recording)) as { sentence: string }).sentence,
    batteries: async () => ((await ask("batteries")) as { batteries: ServedBattery[] }).batteries,
    recordings: async (battery) =>
      ((await ask(`recordings?battery=${encodeURIComponent(battery)}`)) as { recordings: ServedRecording[] })
        .recordings,
    reportAddress: (battery) =>
      battery === null ? "./api/report" : `./api/report?battery=${encodeURIComponent(battery)}`,
  };
}

async function ask(path: string, body?: unknown): Promise<unknown> {
  const answer = await fetch(
    `./api/${path}`,
    body === undefined
      ? {}
      : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) },
  ).catch(() => {
    throw new Error("The server does not answer; see whether busdip page still runs.");
  });
  const content = (await answer.json().catch(() => ({}))) as { readonly sentence?: string };
  if (!answer.ok) throw new Error(content.sentence ?? `The server refused (${answer.status}).`);
  return content;
}
