/**
 * 95 % interval of a share. Source: Wilson, Journal of the American Statistical Association 22 (1927) 209.
 */
export function wilsonInterval(successes: number, count: number): readonly [number, number] {
  const z = 1.959964;
  const centre = (successes + z ** 2 / 2) / (count + z ** 2);
  const half = (z * Math.sqrt((successes * (count - successes)) / count + z ** 2 / 4)) / (count + z ** 2);
  return [Math.max(0, centre - half), Math.min(1, centre + half)];
}
