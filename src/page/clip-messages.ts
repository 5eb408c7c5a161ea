import type { DialDoubt } from "../importers/video/needle-reading.js";
import type { DialPointing } from "./dial-pointing.js";
import type { FilmOrigin } from "./film-origin.js";
import type { HeardSwitch } from "./heard-switch.js";
import type { KnownMeter } from "./known-meter.js";

/** What the thread that reads clips is asked; one thread per clip. */
export type ClipRequest =
  | { readonly kind: "open"; readonly file: Blob; readonly name: string }
  /** At a time, or for null where the dial shows best. */
  | { readonly kind: "still"; readonly timeS: number | null; readonly known: KnownMeter }
  | { readonly kind: "needle"; readonly dial: DialPointing }
  | { readonly kind: "read"; readonly dial: DialPointing; readonly known: KnownMeter }
  /** Small pictures of a square of the upright picture. */
  | { readonly kind: "frames"; readonly timesS: readonly number[]; readonly square: Square };

/** A square of the upright picture, pixels. */
export interface Square {
  readonly x: number;
  readonly y: number;
  readonly side: number;
}

/** The needle as it was found in the still: a line from `from` to `to`, upright pixels, and what it shows. */
export interface FoundNeedle {
  readonly from: { readonly x: number; readonly y: number };
  readonly to: { readonly x: number; readonly y: number };
  readonly volts: number;
}

export type ClipAnswer =
  | { readonly kind: "opened"; readonly durationS: number | null }
  | { readonly kind: "undecodable" }
  | {
      readonly kind: "still";
      readonly picture: ImageBitmap;
      readonly timeS: number;
      /** Where the pivot seems to be; null where none was found. */
      readonly pivot: { readonly x: number; readonly y: number } | null;
      /** Marks of the scale as found; empty where the scale does not tell them. */
      readonly marks: DialPointing["marks"];
      /** What was left open; null where all was found, or nothing was looked for. */
      readonly doubt: DialDoubt | null;
    }
  | { readonly kind: "needle"; readonly needle: FoundNeedle | null; readonly why: string | null }
  | {
      readonly kind: "progress";
      readonly doneS: number;
      /** Readings since the last report, for the strip. */
      readonly timesS: readonly number[];
      readonly volts: readonly number[];
    }
  /** `heard` is null where the sound must be decoded elsewhere. */
  | {
      readonly kind: "read";
      readonly csv: string;
      readonly film: Omit<FilmOrigin, "heard">;
      readonly heard: HeardSwitch | null;
    }
  | { readonly kind: "frame"; readonly timeS: number; readonly picture: Blob }
  | { readonly kind: "framed" }
  | { readonly kind: "refused"; readonly sentence: string }
  | { readonly kind: "fault"; readonly message: string };
