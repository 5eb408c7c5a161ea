import type { HeardSwitch } from "./heard-switch.js";

/** Where readings of a clip come from, and what belongs to them beside their numbers. */
export interface FilmOrigin {
  /** The clip's file. */
  readonly name: string;
  readonly sha256: string;
  /** What a person should know of the readings, one phrase each. */
  readonly facts: readonly string[];
  /** Standard uncertainty of the scale that all depths share, as a fraction. */
  readonly gainUncertainty: number;
  readonly heard: HeardSwitch;
}
