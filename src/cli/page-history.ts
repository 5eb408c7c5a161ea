import { z } from "zod";
import { InputError } from "../importers/input-error.js";
import { readResultJson } from "../report/result-json.js";
import type { BatteryStory } from "../report/trend-context.js";
import { alarmRemedyText, concernText, trendStatusText } from "../report/trend-messages.js";
import { worstSeries } from "../report/trend-terminal.js";
import { addAnalysisToStore } from "./history-entry.js";
import { momentAfter, withHistory } from "./history-store.js";
import { BATTERY_C_REMEDY, mayBeBatteryC } from "./number-option.js";
import { softwareVersion } from "./software-version.js";

/** What the API answers with. */
export type ApiAnswer = { readonly json: unknown } | { readonly html: string };

/** For so long an answer stands, so that many requests at once cost one look into the history. */
const ANSWER_LASTS_MS = 2_000;
const MOST_RECORDINGS = 2_000;

/** A name that the store keeps whole and a screen can show: no control characters, no half of a pair. */
const text = z
  .string()
  .trim()
  .min(1)
  .max(200)
  .regex(/^[^\p{Cc}\p{Cs}]*$/u, "it holds signs that cannot be shown");
const additionSchema = z.strictObject({
  result: z.unknown(),
  date: z.string().max(40),
  battery: text.optional(),
  aircraft: text.optional(),
  bus: text.optional(),
  temperatureC: z.number().optional(),
  stateOfCharge: z.number().min(0).max(1).optional(),
});

/** The history as the page sees it. */
export class PageHistory {
  readonly #store: string | undefined;
  readonly #lasting = new Map<string, { readonly untilMs: number; readonly answer: ApiAnswer }>();

  constructor(store: string | undefined) {
    this.#store = store;
  }

  /** What the page asks first, to know whether there is a history behind it. */
  about(locked: boolean): unknown {
    const place = locked ? "" : withHistory(this.#store, true, (history) => history.place);
    return { program: "busdip", version: softwareVersion(), locked, place };
  }

  /** Answers a question; null for one that is not known. */
  async answer(wanted: string, battery: string | null): Promise<ApiAnswer | null> {
    const key = `${wanted}?${battery ?? ""}`;
    const nowMs = Date.now();
    const kept = this.#lasting.get(key);
    if (kept !== undefined && kept.untilMs > nowMs) return kept.answer;
    const answer = await this.#compute(wanted, battery);
    if (answer === null) return null;
    if (this.#lasting.size > 100) this.#lasting.clear();
    this.#lasting.set(key, { untilMs: Date.now() + ANSWER_LASTS_MS, answer });
    return answer;
  }

  async #compute(wanted: string, battery: string | null): Promise<ApiAnswer | null> {
    switch (wanted) {
      case "batteries":
        return { json: { batteries: (await this.#trends(null)).stories.map(batteryLine) } };
      case "recordings":
        return { json: { recordings: this.#recordings(battery) } };
      case "trend": {
        const { trendJson } = await import("../report/trend-json.js");
        const { stories, context } = await this.#trends(battery);
        return { json: trendJson(stories, context) };
      }
      case "report":
        return { html: await this.#report(battery) };
      default:
        return null;
    }
  }

  /** Adds a result that the page sends. @throws InputError where it is none, or something is missing */
  add(body: unknown): ApiAnswer {
    const addition = additionSchema.safeParse(body);
    if (!addition.success) {
      const issue = addition.error.issues[0]!;
      throw new InputError({
        problem: `${issue.path.join(".") || "what was sent"} does not fit (${issue.message})`,
        remedy: "send result, date and, if known, battery, aircraft, bus, temperatureC and stateOfCharge",
      });
    }
    const { result, date, ...origin } = addition.data;
    const { temperatureC } = origin;
    if (temperatureC !== undefined && !mayBeBatteryC(temperatureC)) {
      const remedy = `${BATTERY_C_REMEDY}, or leave it out`;
      throw new InputError({ problem: `the temperature of the battery is ${temperatureC}`, remedy });
    }
    const reading = readResultJson(JSON.stringify(result ?? null));
    if (!reading.ok) throw new InputError({ problem: reading.problem, remedy: reading.remedy });
    const known = Object.fromEntries(Object.entries(origin).filter(([, value]) => value !== undefined));
    const atS = momentAfter("date", date);
    const { outcome, battery } = addAnalysisToStore(reading.result, { ...known, atS }, this.#store);
    this.#lasting.clear();
    const sentence =
      outcome === "added"
        ? `Added to battery ${battery}.`
        : "This recording is in the history already; nothing was changed.";
    return { json: { outcome, battery, sentence } };
  }

  async #trends(battery: string | null) {
    const { judgeTrends } = await import("./trend.js");
    withHistory(this.#store, true, () => {});
    return judgeTrends(battery ?? undefined, this.#store === undefined ? {} : { store: this.#store });
  }

  #recordings(battery: string | null): unknown {
    return withHistory(this.#store, true, (history) => {
      const lines = history
        .recordings(battery ?? undefined)
        .slice(-MOST_RECORDINGS)
        .reverse();
      return lines.map(({ hash, source, atS, aircraft }) => ({ hash, source, atS, aircraft }));
    });
  }

  async #report(battery: string | null): Promise<string> {
    const { readPlotlySource } = await import("./report-files.js");
    const { renderFleetReport, renderTrendReport } = await import("../report/trend-html.js");
    const { stories, context } = await this.#trends(battery);
    const whole = { ...context, plotlySource: await readPlotlySource() };
    return battery === null ? renderFleetReport(stories, whole) : renderTrendReport(stories[0]!, whole);
  }
}

function batteryLine(story: BatteryStory): unknown {
  const series = worstSeries(story);
  const alarm = story.retiredOn === null && story.concern.class >= 4;
  return {
    battery: story.battery,
    aircraft: story.aircraft,
    flightCount: story.flightCount,
    retiredOn: story.retiredOn,
    status: series === null ? "no reading" : trendStatusText(series.judgement.status),
    alarm,
    sentences:
      series === null
        ? ["No recording of it tells a resistance yet."]
        : [concernText(series, story.battery), ...(alarm ? [alarmRemedyText(series)] : [])],
  };
}
