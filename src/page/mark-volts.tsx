import type { Handle } from "./dial-board.js";
import type { DialPointing } from "./dial-pointing.js";
import { TypedInput } from "./typed-input.js";

interface MarkVoltsProps {
  readonly dial: DialPointing;
  readonly chosen: Handle;
  readonly onChoose: (handle: Handle) => void;
  readonly onChange: (dial: DialPointing) => void;
}

/** The volts of each mark, and marks more or fewer. */
export function MarkVolts({ dial, chosen, onChoose, onChange }: MarkVoltsProps) {
  const { marks } = dial;
  const add = (): void => {
    const place = betweenMarks(dial);
    onChange({ ...dial, marks: [...marks, { ...place, volts: Math.max(...marks.map(({ volts }) => volts), 0) + 5 }] });
    onChoose(marks.length);
  };
  return (
    <fieldset>
      <legend>Volts of the marks</legend>
      <div class="fields volts">
        {marks.map((mark, i) => (
          <label key={`mark-${i + 1}`} class={`short ${chosen === i ? "chosen" : ""}`}>
            Mark {i + 1} (V)
            <TypedInput
              inputMode="decimal"
              value={Number.isFinite(mark.volts) ? String(mark.volts) : ""}
              onFocus={() => onChoose(i)}
              onTyped={(typed) => {
                const text = typed.trim().replace(",", ".");
                const volts = text === "" ? Number.NaN : Number(text);
                onChange({ ...dial, marks: marks.map((one, k) => (k === i ? { ...one, volts } : one)) });
              }}
            />
          </label>
        ))}
      </div>
      <p class="row">
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
      </p>
    </fieldset>
  );
}

/** A place on the scale in the middle of the first two marks, for the next one to be moved from. */
function betweenMarks({ pivot, marks }: DialPointing): { readonly x: number; readonly y: number } {
  const [a, b] = [marks[0]!, marks[1]!];
  const middle = { x: (a.x + b.x) / 2 - pivot.x, y: (a.y + b.y) / 2 - pivot.y };
  const reach = Math.hypot(a.x - pivot.x, a.y - pivot.y) / Math.max(1, Math.hypot(middle.x, middle.y));
  return { x: Math.round(pivot.x + reach * middle.x), y: Math.round(pivot.y + reach * middle.y) };
}
