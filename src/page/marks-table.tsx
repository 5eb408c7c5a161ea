import type { SwitchingMark } from "../core/index.js";
import { LoadSelect, type NamedLoad } from "./load-select.js";
import { TypedInput } from "./typed-input.js";

interface MarksTableProps {
  readonly marks: readonly SwitchingMark[];
  readonly loads: readonly NamedLoad[];
  /** Told which mark gives way to which other one, or to none. */
  readonly onReplace: (old: SwitchingMark, mark: SwitchingMark | null) => void;
}

/** Each marked time, to be changed or removed. */
export function MarksTable({ marks, loads, onReplace }: MarksTableProps) {
  return (
    <div class="table marks">
      <table>
        <thead>
          <tr>
            <th scope="col">Time (s)</th>
            <th scope="col">Load</th>
            <th scope="col">On/off</th>
            <th scope="col">
              <span class="unseen">Remove</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {marks.map((mark, i) => (
            // By its place: a row that was made anew when it changes would lose the focus.
            <tr key={`mark-${i + 1}`}>
              <td>
                <TypedInput
                  type="number"
                  step="any"
                  aria-label={`Time of mark ${i + 1} in seconds`}
                  value={String(Number(mark.timeS.toFixed(3)))}
                  onTyped={(text) => {
                    const timeS = text.trim() === "" ? Number.NaN : Number(text);
                    if (Number.isFinite(timeS)) onReplace(mark, { ...mark, timeS });
                  }}
                />
              </td>
              <td>
                <LoadSelect
                  label={`Load of mark ${i + 1}`}
                  loads={loads}
                  value={mark.load}
                  onChange={(load) => onReplace(mark, { ...mark, load })}
                />
              </td>
              <td>
                <button
                  type="button"
                  class="second"
                  aria-label={`Mark ${i + 1} is ${mark.action}; change`}
                  onClick={() => onReplace(mark, { ...mark, action: mark.action === "on" ? "off" : "on" })}
                >
                  {mark.action}
                </button>
              </td>
              <td>
                <button
                  type="button"
                  class="quiet"
                  aria-label={`Remove mark ${i + 1}`}
                  onClick={() => onReplace(mark, null)}
                >
                  &times;
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
