/** Cautions of every run sheet and page of a plan. */
export const PLAN_CAUTIONS: readonly string[] = [
  "Advisory only, not an approved procedure: the approved flight and maintenance manuals, local rules and the licensed person's judgement come first.",
  "A heated probe burns skin and covers: covers off, people clear, shortest time, the manual's ground limit.",
  "The battery falls under load: stop at the manual's minimum voltage. Temperature limits of Ni-Cd batteries apply.",
  "A response shows that current flows, not that a heater is hot enough.",
];
