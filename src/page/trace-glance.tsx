import type { SwitchingMark } from "../core/index.js";
import { formatDuration, formatPlain } from "../report/number-format.js";
import type { LogLook } from "./judge-messages.js";

const WIDTH = 720;
const HEIGHT = 140;

interface TraceGlanceProps {
  readonly look: LogLook;
  readonly marks: readonly SwitchingMark[];
  /** Clicks of a switch, seconds of the recording. */
  readonly clicksS: readonly number[];
  /** Told the time, in seconds of the recording, where the drawing was tapped. */
  readonly onTap: (timeS: number) => void;
}

/** The readings in a small drawing; tapping it marks a switching, and typing does the same for the keyboard. */
export function TraceGlance({ look, marks, clicksS, onTap }: TraceGlanceProps) {
  const spanS = look.endS - look.startS;
  const spanV = Math.max(1e-6, look.highestV - look.lowestV);
  const x = (timeS: number) => (WIDTH * (timeS - look.startS)) / spanS;
  const y = (volts: number) => 6 + ((HEIGHT - 12) * (look.highestV - volts)) / spanV;
  const words = `${look.readingCount.toLocaleString("en")} readings in ${formatDuration(spanS)}, from ${formatPlain(look.lowestV, "V", { digits: 4 })} to ${formatPlain(look.highestV, "V", { digits: 4 })}`;
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
          const timeS = look.startS + (spanS * (event.clientX - box.left)) / box.width;
          onTap(Math.round(10 * timeS) / 10);
        }}
      >
        {onTimes(marks).map(([onS, offS]) => (
          <rect key={onS} class="on-time" x={x(onS)} y="0" width={Math.max(1, x(offS) - x(onS))} height={HEIGHT} />
        ))}
        {clicksS.map((timeS) => (
          <path key={timeS} class="click" d={`M${x(timeS).toFixed(1)} 0V14`} />
        ))}
        <path class="readings" d={outline(look, y)} />
      </svg>
      <figcaption>{words}. Tap the drawing where a load went on, then where it went off.</figcaption>
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

function outline({ trace }: LogLook, y: (volts: number) => number): string {
  const step = WIDTH / trace.lowV.length;
  const points: string[] = [];
  trace.lowV.forEach((lowV, i) => {
    if (Number.isNaN(lowV)) return;
    const x = ((i + 0.5) * step).toFixed(1);
    points.push(`${x} ${y(trace.highV[i]!).toFixed(1)}L${x} ${(y(lowV) + 0.5).toFixed(1)}`);
  });
  return points.length === 0 ? "" : `M${points.join("L")}`;
}
