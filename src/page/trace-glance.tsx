import { useState } from "preact/hooks";
import type { SwitchingMark } from "../core/index.js";
import { formatDuration, formatPlain } from "../report/number-format.js";
import type { LogLook } from "./judge-messages.js";
import { columnsOf, type GlanceView, nearerView, shiftedView, tapAt } from "./trace-view.js";

const WIDTH = 720;
const HEIGHT = 140;

interface TraceGlanceProps {
  readonly look: LogLook;
  readonly marks: readonly SwitchingMark[];
  /** Clicks of a switch, seconds of the recording. */
  readonly clicksS: readonly number[];
  /** Told the time, in seconds of the recording, where the drawing was tapped, and how well a tap tells it. */
  readonly onTap: (timeS: number, uncertaintyS: number) => void;
}

/** The readings in a small drawing; tapping it marks a switching, and typing does the same for the keyboard. */
export function TraceGlance({ look, marks, clicksS, onTap }: TraceGlanceProps) {
  const whole: GlanceView = { fromS: look.startS, toS: look.endS };
  const [near, setNear] = useState<GlanceView | null>(null);
  const view = near ?? whole;
  const columns = columnsOf(look, view);
  const lowestV = columns.reduce((least, { lowV }) => Math.min(least, lowV), Number.POSITIVE_INFINITY);
  const highestV = columns.reduce((most, { highV }) => Math.max(most, highV), Number.NEGATIVE_INFINITY);
  const x = (timeS: number) => (WIDTH * (timeS - view.fromS)) / (view.toS - view.fromS);
  const y = (volts: number) => 6 + ((HEIGHT - 12) * (highestV - volts)) / Math.max(1e-6, highestV - lowestV);
  const outline = columns.map(
    ({ timeS, lowV, highV }) =>
      `${x(timeS).toFixed(1)} ${y(highV).toFixed(1)}L${x(timeS).toFixed(1)} ${(y(lowV) + 0.5).toFixed(1)}`,
  );
  const words = `${look.readingCount.toLocaleString("en")} readings in ${formatDuration(look.endS - look.startS)}, from ${formatPlain(look.lowestV, "V", { digits: 4 })} to ${formatPlain(look.highestV, "V", { digits: 4 })}`;
  return (
    <figure class="glance">
      {/* biome-ignore lint/a11y/useKeyWithClickEvents: marks are typed below by those who do not tap */}
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        preserveAspectRatio="none"
        role="img"
        aria-label={`Voltage over time: ${words}`}
        onClick={(event) => {
          const box = event.currentTarget.getBoundingClientRect();
          const tap = tapAt(view, (event.clientX - box.left) / box.width, {
            widthPx: box.width,
            isFinger: (event as Partial<PointerEvent>).pointerType !== "mouse",
          });
          if (tap.isFine) onTap(tap.timeS, tap.uncertaintyS);
          else setNear(nearerView(whole, view, tap));
        }}
      >
        {onTimes(marks).map(([onS, offS]) => (
          <rect key={onS} class="on-time" x={x(onS)} y="0" width={Math.max(1, x(offS) - x(onS))} height={HEIGHT} />
        ))}
        {clicksS.map((timeS) => (
          <path key={timeS} class="click" d={`M${x(timeS).toFixed(1)} 0V14`} />
        ))}
        {outline.length > 0 && <path class="readings" d={`M${outline.join("L")}`} />}
      </svg>
      <figcaption>
        {words}.{" "}
        {near === null
          ? "Tap where a load went on, then where it went off; a long recording is shown nearer first."
          : `Shown: ${view.fromS.toFixed(1)} to ${view.toS.toFixed(1)} s. Tap where a load went on, then where it went off.`}
      </figcaption>
      {near !== null && (
        <p class="row">
          <button type="button" class="second" onClick={() => setNear(shiftedView(whole, view, -0.5))}>
            Earlier
          </button>
          <button type="button" class="second" onClick={() => setNear(shiftedView(whole, view, 0.5))}>
            Later
          </button>
          <button type="button" class="second" onClick={() => setNear(null)}>
            Whole recording
          </button>
        </p>
      )}
    </figure>
  );
}

function onTimes(marks: readonly SwitchingMark[]): (readonly [number, number])[] {
  const found: [number, number][] = [];
  for (const mark of marks) {
    const open = found.at(-1);
    if (mark.action === "on") found.push([mark.timeS, mark.timeS]);
    else if (open !== undefined && open[1] === open[0]) open[1] = mark.timeS;
  }
  return found;
}
