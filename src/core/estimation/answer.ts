import type { UnknownReason } from "../notes.js";

/** A result, or why the data cannot tell. */
export type Answer<T> = ({ readonly known: true } & T) | Unanswered;

export interface Unanswered {
  readonly known: false;
  readonly reason: UnknownReason;
}

/** An answer that cannot be given, and why. */
export function unanswered(reason: UnknownReason): Unanswered {
  return { known: false, reason };
}
