import { useEffect, useState } from "preact/hooks";
import { plainLabel } from "../report/label-text.js";
import type { ScreenProps } from "./screen-props.js";
import type { ServedBattery, ServedHistory, ServedRecording } from "./served-history.js";

/** The batteries of the served history, the one of most concern first. */
export function HistoryScreen({ history }: ScreenProps) {
  if (history === null) {
    return (
      <p>There is no history here: start the page with busdip page on a computer, and open the address it shows.</p>
    );
  }
  if (history.locked) return <Entry history={history} />;
  return <Batteries history={history} />;
}

function Entry({ history }: { readonly history: ServedHistory }) {
  const [code, setCode] = useState("");
  const [problem, setProblem] = useState<string | null>(null);
  const enter = async (event: Event): Promise<void> => {
    event.preventDefault();
    try {
      await history.enter(code.trim());
      location.reload();
    } catch (fault) {
      setProblem(fault instanceof Error ? fault.message : String(fault));
    }
  };
  return (
    <form class="row" onSubmit={enter}>
      <label>
        Code shown in the terminal
        <input
          inputMode="numeric"
          autoComplete="one-time-code"
          value={code}
          onInput={(event) => setCode(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="main">
        Enter
      </button>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
    </form>
  );
}

function Batteries({ history }: { readonly history: ServedHistory }) {
  const [batteries, setBatteries] = useState<readonly ServedBattery[] | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  useEffect(() => {
    history
      .batteries()
      .then(setBatteries)
      .catch((fault: Error) => setProblem(fault.message));
  }, [history]);
  if (problem !== null) {
    return (
      <p class="problem" role="alert">
        {problem}
      </p>
    );
  }
  if (batteries === null) return <p role="status">Reading the history ...</p>;
  if (batteries.length === 0) return <p>No recording has been added yet; judge one and add it.</p>;
  return (
    <>
      <p class="aside">
        Kept in <bdi>{history.place}</bdi>.{" "}
        <a href={history.reportAddress(null)} target="_blank" rel="noopener">
          Report of all batteries
        </a>
      </p>
      <ul class="batteries">
        {batteries.map((one) => (
          <Battery key={one.battery} one={one} history={history} />
        ))}
      </ul>
    </>
  );
}

function Battery({ one, history }: { readonly one: ServedBattery; readonly history: ServedHistory }) {
  const [recordings, setRecordings] = useState<readonly ServedRecording[] | null>(null);
  const name = plainLabel(one.battery);
  return (
    <li class={one.alarm ? "alarm" : ""}>
      <h2>
        <bdi>{name}</bdi>
        {one.aircraft !== null && <span class="soft"> in {plainLabel(one.aircraft)}</span>}
        <span class="status">{one.retiredOn === null ? one.status : `out of service since ${one.retiredOn}`}</span>
      </h2>
      {one.sentences.map((sentence) => (
        <p key={sentence}>{sentence}</p>
      ))}
      <details
        onToggle={(event) => {
          if (event.currentTarget.open && recordings === null) void history.recordings(one.battery).then(setRecordings);
        }}
      >
        <summary>{one.flightCount === 1 ? "1 recording" : `${one.flightCount} recordings`}</summary>
        <ul>
          {recordings?.map((recording) => (
            <li key={recording.hash}>
              {new Date(1000 * recording.atS).toISOString().slice(0, 10)}: <bdi>{plainLabel(recording.source)}</bdi>
            </li>
          ))}
        </ul>
      </details>
      <p>
        <a href={history.reportAddress(one.battery)} target="_blank" rel="noopener">
          Trend report of {name}
        </a>
      </p>
    </li>
  );
}
