import type { Handle } from "./dial-board.js";
import type { DialPointing } from "./dial-pointing.js";
import { TypedInput } from "./typed-input.js";

interface MarkVoltsProps {
  readonly dial: DialPointing;
  readonly chosen: Handle;
  readonly onChoose: (handle: Handle) => void;
  /** Told the way from the newest dial, drawn or not, to the next. */
  readonly onChange: (step: (now: DialPointing) => DialPointing) => void;
}

/** The volts of each mark, and marks more or fewer. */
export function MarkVolts({ dial, chosen, onChoose, onChange }: MarkVoltsProps) {
  const { marks } = dial;
  const add = (): void => {
    onChange((now) => ({ ...now, marks: [...now.marks, markBetween(now)] }));
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
                onChange((now) => ({
                  ...now,
                  marks: now.marks.map((one, k) => (k === i ? { ...one, volts } : one)),
                }));
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
              onChange((now) => ({ ...now, marks: now.marks.slice(0, -1) }));
            }}
          >
            Remove the last
          </button>
        )}
      </p>
    </fieldset>
  );
}

/** A mark half-way across the widest stretch of the scale, to be moved from there. */
function markBetween({ pivot, marks }: DialPointing): DialPointing["marks"][number] {
  const sorted = marks.filter(({ volts }) => Number.isFinite(volts)).sort((a, b) => a.volts - b.volts);
  const known = sorted.length < 2 ? marks : sorted;
  let [a, b] = [known[0]!, known[1]!];
  for (let i = 2; i < known.length; i++) {
    if (known[i]!.volts - known[i - 1]!.volts > b.volts - a.volts) [a, b] = [known[i - 1]!, known[i]!];
  }
  const middle = { x: (a.x + b.x) / 2 - pivot.x, y: (a.y + b.y) / 2 - pivot.y };
  const reach = Math.hypot(a.x - pivot.x, a.y - pivot.y) / Math.max(1, Math.hypot(middle.x, middle.y));
  return {
    x: Math.round(pivot.x + reach * middle.x),
    y: Math.round(pivot.y + reach * middle.y),
    volts: Math.round(50 * (a.volts + b.volts)) / 100,
  };
}
