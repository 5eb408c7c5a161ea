import { formatPlain } from "../report/number-format.js";

interface ReadingStripProps {
  readonly doneS: number;
  readonly timesS: readonly number[];
  readonly volts: readonly number[];
  readonly durationS: number | null;
  readonly onCancel: () => void;
}

const WIDTH = 720;
const HEIGHT = 160;

/** The readings as they come, with how far the clip is read. */
export function ReadingStrip({ doneS, timesS, volts, durationS, onCancel }: ReadingStripProps) {
  const endS = Math.max(durationS ?? doneS, doneS, 1e-3);
  const low = volts.reduce((least, one) => Math.min(least, one), Number.POSITIVE_INFINITY);
  const high = volts.reduce((most, one) => Math.max(most, one), Number.NEGATIVE_INFINITY);
  const y = (volt: number) => 8 + (HEIGHT - 16) * (high > low ? (high - volt) / (high - low) : 0.5);
  const points = timesS.map((timeS, i) => `${((WIDTH * timeS) / endS).toFixed(1)} ${y(volts[i]!).toFixed(1)}`);
  const last = volts.at(-1);
  return (
    <section aria-labelledby="strip-h">
      <h2 id="strip-h">Reading the needle</h2>
      <figure class="glance">
        <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} preserveAspectRatio="none" aria-hidden="true">
          {points.length > 1 && <path class="readings" d={`M${points.join("L")}`} />}
        </svg>
      </figure>
      <div class="progress" role="status">
        <progress max={endS} value={Math.min(doneS, endS)} aria-label="How far the clip is read" />
        <span>
          {doneS.toFixed(0)} of {durationS === null ? "?" : durationS.toFixed(0)} s
          {last === undefined ? "" : `, now roughly ${formatPlain(last, "V", { digits: 4 })}`}
        </span>
        <button type="button" class="second" onClick={onCancel}>
          Cancel
        </button>
      </div>
    </section>
  );
}
