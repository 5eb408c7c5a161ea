import { useState } from "preact/hooks";
import type { LogLook } from "./judge-messages.js";

interface BeatClockProps {
  readonly zeroEpochS: number;
  readonly look: LogLook | null;
  readonly onShift: (shiftS: number) => void;
}

/** The beat's marks count from its own start; a log counts from its own. */
export function BeatClock({ zeroEpochS, look, onShift }: BeatClockProps) {
  const [text, setText] = useState("");
  const byClock = look?.startEpochS == null ? null : zeroEpochS - look.startEpochS;
  const fits = byClock !== null && look !== null && byClock > look.startS - 600 && byClock < look.endS;
  const typedS = text.trim() === "" ? Number.NaN : Number(text.replace(",", "."));
  return (
    <div class="note">
      <p>These times count from the start of the beat. Say where that was in this recording.</p>
      <p class="row">
        {fits && (
          <button type="button" class="second" onClick={() => onShift(byClock)}>
            By the clocks: at {byClock.toFixed(1)} s
          </button>
        )}
        <label class="short">
          Beat began at (s)
          <input inputMode="decimal" value={text} onInput={(event) => setText(event.currentTarget.value)} />
        </label>
        <button type="button" class="second" disabled={!Number.isFinite(typedS)} onClick={() => onShift(typedS)}>
          Set
        </button>
      </p>
    </div>
  );
}
