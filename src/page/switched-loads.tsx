import type { SwitchingPattern } from "../core/index.js";
import type { BeatLoad } from "./beat-plan.js";

interface SwitchedLoadsProps {
  readonly loads: readonly BeatLoad[];
  readonly isIn: (load: BeatLoad) => boolean;
  /** Whether the times of the beat are told. */
  readonly withTimes: boolean;
  readonly onTurn: (id: string | null) => void;
}

/** The loads in the order of the check, each with its beat and what the plan promises of it. */
export function SwitchedLoads({ loads, isIn, withTimes, onTurn }: SwitchedLoadsProps) {
  return (
    <ul class="ticks">
      {loads.map((load) => {
        const field = `switch-${load.id ?? ""}`;
        const blocked = withTimes && load.pattern === null;
        return (
          <li key={field} class="tick">
            <input
              id={field}
              type="checkbox"
              checked={isIn(load) && !blocked}
              disabled={blocked}
              onChange={() => onTurn(load.id)}
            />
            <label for={field}>
              <bdi>{load.name}</bdi>
              {withTimes && <span class="times">{timesText(load.pattern)}</span>}
              {load.promise !== "" && <span class="times">{load.promise}</span>}
            </label>
          </li>
        );
      })}
    </ul>
  );
}

function timesText(pattern: SwitchingPattern | null): string {
  if (pattern === null) return "Its limit on the time on leaves no room for a beat.";
  const { onS, offS, totalOnS } = pattern;
  const all = [...onS, ...offS];
  return `${onS.length} times, ${Math.min(...all)} to ${Math.max(...all)} s each; ${totalOnS} s on in all.`;
}
