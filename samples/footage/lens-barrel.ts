import type { FootagePlan } from "./footage-plan.js";

type Place = { x: number; y: number };

/** Where a place of the picture would stand through a lens that bends nothing. */
export function straightened({ width, height }: FootagePlan, barrel: number, { x, y }: Place): Place {
  const [u, v] = [x - width / 2, y - height / 2];
  const out = 1 + (barrel * 4 * (u * u + v * v)) / (width * width + height * height);
  return { x: width / 2 + u * out, y: height / 2 + v * out };
}

/** Where a place stands through the lens: the inverse of `straightened`, by repetition. */
export function barrelled(plan: FootagePlan, barrel: number, place: Place): Place {
  let seen = place;
  if (barrel === 0) return seen;
  for (let step = 0; step < 20; step++) {
    const { x, y } = straightened(plan, barrel, seen);
    seen = { x: seen.x + place.x - x, y: seen.y + place.y - y };
  }
  return seen;
}
