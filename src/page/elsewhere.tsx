import { useEffect, useState } from "preact/hooks";

interface ElsewhereProps {
  /** Takes the work over; false where the other tab cannot stop now. */
  readonly onTake: () => Promise<boolean>;
}

/** In place of the page while another tab or window has the work. */
export function Elsewhere({ onTake }: ElsewhereProps) {
  const [state, setState] = useState<"open" | "taking" | "refused">("open");
  useEffect(() => {
    document.title = "Already open - busdip";
  }, []);
  const take = async (): Promise<void> => {
    setState("taking");
    if (!(await onTake())) setState("refused");
  };
  return (
    <main>
      <h1>Already open in another tab</h1>
      <p>This page is open in another tab or window of this browser too, and the work can go on in one at a time.</p>
      {state === "refused" && (
        <p class="problem" role="alert">
          Loads are being switched there; end that first, or close it.
        </p>
      )}
      <p>
        <button type="button" class="main" disabled={state === "taking"} onClick={take}>
          Carry on here
        </button>
      </p>
      <p class="aside">Nothing is lost. Once the other one is closed, this one carries on by itself.</p>
    </main>
  );
}
