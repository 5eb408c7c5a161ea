import type { Projection } from "./camera-motion.js";
import type { Unsteady } from "./unsteady.js";

/** A shadow of the needle: where it falls beside it and how soft it is (shares of the radius), and how dark. */
export interface NeedleShadow {
  readonly x: number;
  readonly y: number;
  readonly darkness: number;
  readonly soft: number;
}

export const USUAL_SHADOW: NeedleShadow = { x: 0.014, y: 0.02, darkness: 0.35, soft: 0.006 };

/** What goes wrong while a scene is filmed, by time; a scene without any is as its plan says. */
export interface FilmFaults {
  /** Changes the map from the dial's plane to the picture. */
  view?(timeS: number, view: Projection): void;
  /** How much the lens bends straight lines: shift of a corner, as a share of its distance from the middle. */
  readonly barrel?: number;
  /** Blur beside the camera's own, standard deviation in pixels. */
  blurPx?(timeS: number): number;
  /** Where the needle is seen beside its place on the face, shares of the radius. */
  aside?(timeS: number): { readonly x: number; readonly y: number };
  /** The needle's shadows instead of the usual one. */
  shadows?(timeS: number): readonly NeedleShadow[];
  /** Light on the dial, as a factor. */
  light?(timeS: number): number;
  /** Exponent of the camera's tone curve; 1 for none. */
  gamma?(timeS: number): number;
  /** What the needle shows where it would show volts by time. */
  needleV?(shownV: Unsteady): Unsteady;
  /** Fewest moments that a frame's exposure is made of, for what moves within it. */
  readonly leastMoments?: number;
  /** The moment that a frame of this time really shows. */
  shownS?(timeS: number): number;
  /** Frames of these times are not in the clip. */
  isDropped?(timeS: number): boolean;
  /** Frames of these times are key frames beside the usual ones. */
  isKey?(timeS: number): boolean;
  /** Bits a second, as a factor. */
  bits?(timeS: number): number;
}
