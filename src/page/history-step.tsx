import { useState } from "preact/hooks";
import { resultOf } from "./answer-files.js";
import type { Judged } from "./judge-messages.js";
import type { ServedHistory } from "./served-history.js";

interface HistoryStepProps {
  readonly judged: Judged;
  readonly history: ServedHistory;
}

/** Files the answer in the history of the server, with what only the person knows. */
export function HistoryStep({ judged, history }: HistoryStepProps) {
  const { profile } = judged.context;
  const [date, setDate] = useState(() => localMinute(judged.startEpochS));
  const [battery, setBattery] = useState(profile?.battery?.id ?? "");
  const [temperature, setTemperature] = useState("");
  const [outcome, setOutcome] = useState<{ readonly good: boolean; readonly text: string } | null>(null);
  const [busy, setBusy] = useState(false);
  const add = async (event: Event): Promise<void> => {
    event.preventDefault();
    const temperatureC = temperature.trim() === "" ? null : Number(temperature.replace(",", "."));
    if (Number.isNaN(temperatureC)) {
      setOutcome({
        good: false,
        text: `The temperature reads '${temperature}', which is no number; nothing was added.`,
      });
      return;
    }
    setBusy(true);
    try {
      const sentence = await history.add({
        result: resultOf(judged),
        date: new Date(date).toISOString(),
        ...(battery.trim() === "" ? {} : { battery: battery.trim() }),
        ...(profile?.aircraft === undefined ? {} : { aircraft: profile.aircraft }),
        ...(profile?.bus === undefined ? {} : { bus: profile.bus }),
        ...(temperatureC === null ? {} : { temperatureC }),
      });
      setOutcome({ good: true, text: sentence });
    } catch (fault) {
      setOutcome({ good: false, text: fault instanceof Error ? fault.message : String(fault) });
    } finally {
      setBusy(false);
    }
  };
  if (history.locked) {
    return (
      <p>
        To add this to the history, <a href="#history">enter the code of the terminal</a> first.
      </p>
    );
  }
  return (
    <section aria-labelledby="file-h">
      <h2 id="file-h">Add to the history</h2>
      <form class="row" onSubmit={add}>
        <label>
          Recorded on
          <input type="datetime-local" required value={date} onInput={(event) => setDate(event.currentTarget.value)} />
        </label>
        <label>
          Battery
          <input value={battery} onInput={(event) => setBattery(event.currentTarget.value)} />
        </label>
        <label class="short">
          Its temperature (&deg;C)
          <input
            inputMode="decimal"
            value={temperature}
            onInput={(event) => setTemperature(event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="second" disabled={busy}>
          Add
        </button>
      </form>
      {outcome !== null && (
        <p class={outcome.good ? "done" : "problem"} role={outcome.good ? "status" : "alert"}>
          {outcome.text}
        </p>
      )}
    </section>
  );
}

/** A moment as the browser's own field for dates wants it; now, where the log does not tell. */
function localMinute(epochS: number | null): string {
  const moment = epochS === null ? new Date() : new Date(1000 * epochS);
  const local = new Date(moment.getTime() - 60_000 * moment.getTimezoneOffset());
  return local.toISOString().slice(0, 16);
}
