import { shortCautionText } from "../report/messages.js";
import type { BeatLoad } from "./beat-plan.js";

/** What must be known before any load is switched, and before each of the chosen ones. */
export function SwitchCautions({ loads }: { readonly loads: readonly BeatLoad[] }) {
  const own = new Map<string, string[]>();
  for (const { name, caution } of loads) {
    if (caution !== null) own.set(caution, [...(own.get(caution) ?? []), name]);
  }
  return (
    <ul class="cautions" aria-label="Before any load is switched">
      {(["advisory", "hot-probe", "battery-falls"] as const).map((caution) => (
        <li key={caution}>{shortCautionText(caution)}</li>
      ))}
      {[...own].map(([caution, names]) => (
        <li key={caution}>
          {names.map((name, i) => (
            <>
              {i > 0 && ", "}
              <bdi>{name}</bdi>
            </>
          ))}
          : <bdi>{caution}</bdi>
        </li>
      ))}
    </ul>
  );
}
