import type { Handle } from "./dial-board.js";
import type { DialPointing } from "./dial-pointing.js";

interface MarkVoltsProps {
  readonly dial: DialPointing;
  readonly chosen: Handle;
  readonly onChoose: (handle: Handle) => void;
  readonly onChange: (dial: DialPointing) => void;
}

/** The volts of each mark, and marks more or fewer. */
export function MarkVolts({ dial, chosen, onChoose, onChange }: MarkVoltsProps) {
  const { marks, still } = dial;
  const add = (): void => {
    const place = { x: still.width / 2, y: still.height / 4 };
    onChange({ ...dial, marks: [...marks, { ...place, volts: Math.max(...marks.map(({ volts }) => volts), 0) + 5 }] });
    onChoose(marks.length);
  };
  return (
    <fieldset class="row">
      <legend>Volts of the marks</legend>
      {marks.map((mark, i) => (
        <label key={`mark-${i + 1}`} class={`short ${chosen === i ? "chosen" : ""}`}>
          Mark {i + 1} (V)
          <input
            inputMode="decimal"
            value={Number.isFinite(mark.volts) ? String(mark.volts) : ""}
            onFocus={() => onChoose(i)}
            onChange={(event) => {
              const text = event.currentTarget.value.trim().replace(",", ".");
              const volts = text === "" ? Number.NaN : Number(text);
              onChange({ ...dial, marks: marks.map((one, k) => (k === i ? { ...one, volts } : one)) });
            }}
          />
        </label>
      ))}
      <button type="button" class="second" onClick={add}>
        Add a mark
      </button>
      {marks.length > 2 && (
        <button
          type="button"
          class="second"
          onClick={() => {
            onChoose("pivot");
            onChange({ ...dial, marks: marks.slice(0, -1) });
          }}
        >
          Remove the last
        </button>
      )}
    </fieldset>
  );
}
