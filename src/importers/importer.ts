/** What an importer says to the first bytes of a file; `sentence` tells the person why. */
export type Recognition =
  | { readonly answer: "mine" }
  | { readonly answer: "unsupported"; readonly sentence: string }
  | { readonly answer: "need-more"; readonly byteCount: number }
  | { readonly answer: "not-mine"; readonly sentence: string };

/** One kind of input that readings come from. */
export interface Importer {
  /** As people call it, e.g. `text log`. */
  readonly kind: string;
  /** Looks at the first bytes of a file and at its name. */
  recognize(head: Uint8Array, name: string): Recognition;
}
