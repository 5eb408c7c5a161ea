import { nearestWord } from "./nearest-word.js";
import { fieldFault, type ProfileText } from "./profile-fault.js";
import type { ProfileFile } from "./profile-schema.js";

type Load = NonNullable<ProfileFile["loads"]>[number];

/**
 * What must come before what: each id in `after` is a load, and no load waits for itself, not even by a detour.
 *
 * @throws InputError naming the load and what to write instead.
 */
export function refuseBadOrder(source: ProfileText, loads: readonly Load[], found: unknown): void {
  const ids = loads.map(({ id }) => id);
  loads.forEach((load, index) => {
    for (const id of earlierOf(load)) {
      if (ids.includes(id)) continue;
      const nearest = nearestWord(id, ids);
      throw fieldFault(
        source,
        ["loads", index, "after"],
        found,
        `ids of this profile, which has no '${id}'${nearest === null ? "" : `; did you mean '${nearest}'?`}`,
      );
    }
  });
  const circle = circleOf(loads);
  if (circle === null) return;
  throw fieldFault(
    source,
    ["loads", ids.indexOf(circle[0]!), "after"],
    found,
    `an order without a circle: ${circle.join(" after ")}`,
  );
}

function earlierOf(load: Load): readonly string[] {
  return load.after === undefined ? [] : typeof load.after === "string" ? [load.after] : load.after;
}

/** Ids that wait for each other in a ring, the first again at the end; null where there is none. */
function circleOf(loads: readonly Load[]): string[] | null {
  const byId = new Map(loads.map((load) => [load.id, load]));
  const done = new Set<string>();
  for (const { id: start } of loads) {
    const path: string[] = [];
    const walk = (id: string): string[] | null => {
      const at = path.indexOf(id);
      if (at >= 0) return [...path.slice(at), id];
      if (done.has(id)) return null;
      path.push(id);
      for (const earlier of earlierOf(byId.get(id)!)) {
        const circle = walk(earlier);
        if (circle !== null) return circle;
      }
      path.pop();
      done.add(id);
      return null;
    };
    const circle = walk(start);
    if (circle !== null) return circle;
  }
  return null;
}
