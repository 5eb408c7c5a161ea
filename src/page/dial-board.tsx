import type { ComponentChildren } from "preact";
import { useRef } from "preact/hooks";
import type { FoundNeedle } from "./clip-messages.js";
import type { StillFrame } from "./dial-frame.js";
import type { DialPointing } from "./dial-pointing.js";

interface Place {
  readonly x: number;
  readonly y: number;
}

/** What a handle points out: the pivot, or the mark of that number. */
export type Handle = "pivot" | number;

/** On the way under the finger, let go there, or one step by a key. */
export type Move = "on-the-way" | "let-go" | "key";

interface DialBoardProps {
  readonly picture: string;
  readonly dial: DialPointing;
  /** What is shown of the still. */
  readonly frame: StillFrame;
  readonly needle: FoundNeedle | null;
  readonly chosen: Handle;
  /** What the dial tells as it stands, beside the enlargement. */
  readonly children: ComponentChildren;
  readonly onChoose: (handle: Handle) => void;
  /** The new place from the newest one, which may not have been drawn yet. */
  readonly onMove: (handle: Handle, to: (from: Place) => Place, move: Move) => void;
}

const ARROWS: Readonly<Record<string, Place>> = {
  ArrowLeft: { x: -1, y: 0 },
  ArrowRight: { x: 1, y: 0 },
  ArrowUp: { x: 0, y: -1 },
  ArrowDown: { x: 0, y: 1 },
};

/** The still with the pivot, the scale marks and the found needle drawn on it; handles move by finger, mouse and keys. */
export function DialBoard(props: DialBoardProps) {
  const { width, height } = props.dial.still;
  return (
    <div class="dial">
      <Board {...props} view={props.frame} class="whole" />
      <div class="beside">
        <Board {...props} view={around(placeOf(props.dial, props.chosen), width, height)} class="near" />
        <div>{props.children}</div>
      </div>
    </div>
  );
}

/** A twelfth of the picture's width about a place, for fine work. */
function around(place: Place, width: number, height: number): StillFrame {
  const side = Math.max(80, Math.round(Math.min(width, height) / 6));
  return { x: place.x - side / 2, y: place.y - side / 2, width: side, height: side };
}

export function placeOf(dial: DialPointing, handle: Handle): Place {
  return handle === "pivot" ? dial.pivot : (dial.marks[handle] ?? dial.pivot);
}

interface BoardProps extends DialBoardProps {
  readonly class: "whole" | "near";
  readonly view: StillFrame;
}

function Board({ view, dial, needle, picture, chosen, onChoose, onMove, ...rest }: BoardProps) {
  const board = useRef<SVGSVGElement>(null);
  const held = useRef<{ readonly handle: Handle; readonly offset: Place } | null>(null);
  const isWhole = rest.class === "whole";
  const place = (event: PointerEvent): Place => {
    const box = board.current!.getBoundingClientRect();
    return {
      x: view.x + ((event.clientX - box.left) / box.width) * view.width,
      y: view.y + ((event.clientY - box.top) / box.height) * view.height,
    };
  };
  const kept = ({ x, y }: Place): Place => ({
    x: Math.round(10 * Math.min(dial.still.width - 1, Math.max(0, x))) / 10,
    y: Math.round(10 * Math.min(dial.still.height - 1, Math.max(0, y))) / 10,
  });
  const move = (event: PointerEvent, kind: "on-the-way" | "let-go"): void => {
    if (held.current === null) return;
    const { handle, offset } = held.current;
    const at = place(event);
    onMove(handle, () => kept({ x: at.x + offset.x, y: at.y + offset.y }), kind);
    if (kind === "let-go") held.current = null;
  };
  const take = (event: PointerEvent, handle: Handle): void => {
    event.preventDefault();
    const at = place(event);
    const from = placeOf(dial, handle);
    held.current = { handle, offset: { x: from.x - at.x, y: from.y - at.y } };
    board.current?.setPointerCapture(event.pointerId);
    onChoose(handle);
  };
  const sizePx = view.width / (isWhole ? 30 : 9);
  const handles: readonly { readonly handle: Handle; readonly name: string; readonly at: Place }[] = [
    { handle: "pivot", name: "Pivot", at: dial.pivot },
    ...dial.marks.map((mark, i) => ({
      handle: i,
      name: `Mark ${i + 1}${Number.isFinite(mark.volts) ? `, ${mark.volts} V` : ""}`,
      at: mark,
    })),
  ];
  return (
    // biome-ignore lint/a11y/useSemanticElements: a drawing that holds its handles is no part of a form
    <svg
      ref={board}
      class={rest.class}
      // An upright picture fits the screen with what is said beside it.
      style={isWhole ? { maxWidth: `calc(max(75vh, 26rem) * ${(view.width / view.height).toFixed(4)})` } : undefined}
      viewBox={`${view.x} ${view.y} ${view.width} ${view.height}`}
      role="group"
      aria-label={isWhole ? "The still with pivot and scale marks" : "Enlarged around the chosen point"}
      onPointerDown={(event) => {
        // In the enlargement the whole picture is the handle: it is dragged under the cross.
        if (!isWhole) take(event, chosen);
      }}
      onPointerMove={(event) => move(event, "on-the-way")}
      onPointerUp={(event) => move(event, "let-go")}
      onPointerCancel={() => {
        held.current = null;
      }}
    >
      {/* Whole numbers are the middles of pixels, as for the reader of the clip. */}
      <image href={picture} x="-0.5" y="-0.5" width={dial.still.width} height={dial.still.height} />
      {needle !== null && (
        <line class="found" x1={needle.from.x} y1={needle.from.y} x2={needle.to.x} y2={needle.to.y} />
      )}
      {handles.map(({ handle, name, at }) => (
        <g
          key={handle}
          class={`handle ${handle === "pivot" ? "pivot" : "scale"} ${handle === chosen ? "chosen" : ""}`}
          transform={`translate(${at.x} ${at.y})`}
          {...(isWhole
            ? {
                tabIndex: 0,
                role: "button",
                "aria-label": `${name}, at ${at.x.toFixed(0)}, ${at.y.toFixed(0)}; arrow keys move it`,
                onFocus: () => onChoose(handle),
                onPointerDown: (event: PointerEvent) => take(event, handle),
                onKeyDown: (event: KeyboardEvent) => {
                  const step = ARROWS[event.key];
                  if (step === undefined) return;
                  event.preventDefault();
                  const by = event.shiftKey ? 10 : 1;
                  onMove(handle, ({ x, y }) => kept({ x: x + by * step.x, y: y + by * step.y }), "key");
                },
              }
            : {})}
        >
          <circle class="reach" r={1.8 * sizePx} />
          <circle class="ring" r={sizePx / 2} />
          <path
            d={`M${-sizePx} 0H${-sizePx / 6}M${sizePx / 6} 0H${sizePx}M0 ${-sizePx}V${-sizePx / 6}M0 ${sizePx / 6}V${sizePx}`}
          />
          {isWhole && (handle === chosen || isNamed(handle, dial.marks.length)) && (
            <text {...labelPlace(at, dial.pivot, 1.9 * sizePx)} font-size={sizePx} text-anchor="middle">
              {handle === "pivot" ? "pivot" : markText(dial.marks[handle]!.volts, handle)}
            </text>
          )}
        </g>
      ))}
    </svg>
  );
}

/** Many names would cover each other: then the chosen mark's, the first one's and the last one's stand. */
function isNamed(handle: Handle, markCount: number): boolean {
  return handle === "pivot" || markCount <= 4 || handle === 0 || handle === markCount - 1;
}

function markText(volts: number, index: number): string {
  return Number.isFinite(volts) ? `${volts} V` : `mark ${index + 1}`;
}

/** Towards the pivot, where it covers no number of the scale; below the pivot itself. */
function labelPlace(at: Place, pivot: Place, away: number): Place {
  const reach = Math.hypot(pivot.x - at.x, pivot.y - at.y);
  if (reach < 1) return { x: 0, y: away };
  return { x: (away * (pivot.x - at.x)) / reach, y: (away * (pivot.y - at.y)) / reach + away / 6 };
}
