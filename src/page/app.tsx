import type { FunctionComponent } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { goTo, type Screen, useScreen } from "./screen.js";
import type { ScreenProps } from "./screen-props.js";
import { type ServedHistory, servedHistory } from "./served-history.js";
import { StartScreen } from "./start-screen.js";
import { useWork, type WorkStore } from "./work-store.js";

type ScreenComponent = FunctionComponent<ScreenProps>;

/** All but the first screen are fetched when they are shown, so that the page can be used at once. */
const FETCHED: Partial<Record<Screen, () => Promise<ScreenComponent>>> = {
  recording: async () => (await import("./recording-screen.js")).RecordingScreen,
  answer: async () => (await import("./answer-screen.js")).AnswerScreen,
  loads: async () => (await import("./loads-screen.js")).LoadsScreen,
  switching: async () => (await import("./switching-screen.js")).SwitchingScreen,
  history: async () => (await import("./history-screen.js")).HistoryScreen,
  clip: async () => (await import("./clip-screen.js")).ClipScreen,
};

const TITLES: Record<Screen, string> = {
  start: "Did this load answer?",
  recording: "The recording",
  clip: "The dial",
  switching: "Switch to a beat",
  answer: "Answer",
  loads: "Aircraft and loads",
  history: "History",
};

export function App({ store }: { readonly store: WorkStore }) {
  const screen = useScreen();
  const work = useWork(store);
  const [history, setHistory] = useState<ServedHistory | null>(null);
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => void servedHistory().then(setHistory), []);
  useEffect(() => {
    document.title = `${TITLES[screen]} - busdip`;
    if (screen !== "start") heading.current?.focus({ preventScroll: true });
  }, [screen]);
  const undo = async () => {
    await store.undo();
    if (screen === "answer" && store.judged === null) goTo(store.work.file === null ? "start" : "recording");
  };
  return (
    <>
      {/* biome-ignore lint/a11y/useValidAnchor: it leads to a place in the page, which the address after # cannot name beside the screen */}
      <a class="skip" href="#content" onClick={(event) => skipToMain(event)}>
        To the content
      </a>
      <header class="bar">
        <a class="mark" href="#start" aria-label="busdip, to the start">
          <svg viewBox="0 0 48 24" aria-hidden="true">
            <path d="M2 5H13V19H35V5H46" />
          </svg>
          busdip
        </a>
        <nav aria-label="Screens">
          {work.file !== null && screen !== "recording" && <a href="#recording">Recording</a>}
          {work.judgedId !== null && screen !== "answer" && <a href="#answer">Answer</a>}
          {history !== null && screen !== "history" && <a href="#history">History</a>}
          {store.canUndo && (
            <button type="button" class="quiet" onClick={undo}>
              Undo
            </button>
          )}
        </nav>
      </header>
      <main id="content" tabIndex={-1}>
        <h1 ref={heading} tabIndex={-1}>
          {TITLES[screen]}
        </h1>
        <ShownScreen key={screen} screen={screen} store={store} history={history} />
      </main>
      <footer>
        <p>
          Advisory, not an approved means to determine airworthiness: the approved manuals, local rules and the licensed
          person's judgement come first. Nothing leaves this device{history === null ? "" : " unless you send it"}.
        </p>
        {!store.lasting && <p>This browser keeps nothing for this page: a reload will lose the work.</p>}
        <p>busdip {__SOFTWARE_VERSION__}</p>
      </footer>
    </>
  );
}

function skipToMain(event: Event): void {
  event.preventDefault();
  document.getElementById("content")?.focus();
}

function ShownScreen({ screen, ...props }: ScreenProps & { readonly screen: Screen }) {
  const [Fetched, setFetched] = useState<{ readonly component: ScreenComponent } | null>(null);
  const [problem, setProblem] = useState(false);
  useEffect(() => {
    FETCHED[screen]?.()
      .then((component) => setFetched({ component }))
      .catch(() => setProblem(true));
  }, [screen]);
  if (screen === "start") return <StartScreen {...props} />;
  if (problem) return <p role="alert">This part of the page could not be fetched. Reload the page with a network.</p>;
  return Fetched === null ? <p role="status">One moment ...</p> : <Fetched.component {...props} />;
}
