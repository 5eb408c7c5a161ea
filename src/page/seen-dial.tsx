import type { FoundNeedle } from "./clip-messages.js";
import { dialFrame } from "./dial-frame.js";
import type { DialPointing } from "./dial-pointing.js";

interface SeenDialProps {
  readonly picture: string;
  readonly dial: DialPointing;
  readonly needle: FoundNeedle | null;
}

/** The still with pivot, marks and needle drawn on it, as they were read. */
export function SeenDial({ picture, dial, needle }: SeenDialProps) {
  const { still, pivot, marks } = dial;
  const { x, y, width, height } = dialFrame(dial);
  const size = width / 40;
  return (
    <figure class="dial seen">
      <svg
        viewBox={`${x} ${y} ${width} ${height}`}
        role="img"
        aria-label="The dial with the pivot, marks and needle as read"
      >
        <image href={picture} x="-0.5" y="-0.5" width={still.width} height={still.height} />
        {needle !== null && (
          <line class="found" x1={needle.from.x} y1={needle.from.y} x2={needle.to.x} y2={needle.to.y} />
        )}
        <g class="handle pivot" transform={`translate(${pivot.x} ${pivot.y})`}>
          <path d={`M${-size} 0H${size}M0 ${-size}V${size}`} />
        </g>
        {marks.map((mark) => (
          <g key={mark.volts} class="handle" transform={`translate(${mark.x} ${mark.y})`}>
            <circle class="ring" r={size / 2} />
          </g>
        ))}
      </svg>
      <figcaption>The dial as it was read: pivot, marks and needle, at {still.timeS.toFixed(2)} s.</figcaption>
    </figure>
  );
}
