import type { SwitchingMark } from "../core/index.js";
import type { BeatLoad } from "./beat-plan.js";

interface TapPadProps {
  readonly timeS: number;
  readonly loads: readonly BeatLoad[];
  readonly tapped: readonly SwitchingMark[];
  readonly onTap: (load: string | null, action: "on" | "off") => void;
}

/** One large button per load: tapped at the moment of switching it. */
export function TapPad({ timeS, loads, tapped, onTap }: TapPadProps) {
  return (
    <>
      <p>
        Tap a load at the moment you switch it. Leave 10 s of quiet before the first and after the last.{" "}
        <b>{Math.floor(timeS)} s</b>, {tapped.length} {tapped.length === 1 ? "tap" : "taps"}.
      </p>
      <div class="pads">
        {loads.map(({ id, name }) => {
          const isOn = tapped.filter((mark) => mark.load === id).at(-1)?.action === "on";
          return (
            <button
              key={id ?? ""}
              type="button"
              class={`pad ${isOn ? "on" : "off"}`}
              aria-pressed={isOn}
              onClick={() => onTap(id, isOn ? "off" : "on")}
            >
              <bdi>{name}</bdi>
              <strong>{isOn ? "is on: tap as it goes off" : "tap as it goes on"}</strong>
            </button>
          );
        })}
      </div>
    </>
  );
}
