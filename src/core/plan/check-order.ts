import type { LoadProfile } from "../profile.js";

/**
 * The loads in the order of the check: none before those that it must follow, else by `order`, else as in the profile.
 *
 * @throws RangeError where loads wait for each other in a circle
 */
export function checkOrder(loads: readonly LoadProfile[]): readonly LoadProfile[] {
  const known = new Set(loads.map(({ id }) => id));
  const done = new Set<string>();
  const waiting = loads.map((load, index) => ({ load, index }));
  waiting.sort((a, b) => place(a.load) - place(b.load) || a.index - b.index);
  const ordered: LoadProfile[] = [];
  while (waiting.length > 0) {
    const next = waiting.findIndex(({ load }) => (load.after ?? []).every((id) => done.has(id) || !known.has(id)));
    if (next < 0) {
      const ids = waiting.map(({ load }) => load.id).join(", ");
      throw new RangeError(`Cannot order the check: some of these loads wait for each other: ${ids}`);
    }
    const [{ load }] = waiting.splice(next, 1);
    done.add(load.id);
    ordered.push(load);
  }
  return ordered;
}

function place({ order }: LoadProfile): number {
  return order ?? Number.MAX_VALUE;
}
