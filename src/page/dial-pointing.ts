/** What a person pointed out on one still: pixels of the upright picture, x right, y down; whole numbers are the middles of pixels. */
export interface DialPointing {
  readonly still: { readonly timeS: number; readonly width: number; readonly height: number };
  readonly pivot: { readonly x: number; readonly y: number };
  /** Two or more, where the scale line meets the mark. */
  readonly marks: readonly { readonly x: number; readonly y: number; readonly volts: number }[];
}
