/** Something that reads what a stranger gives. */
export interface FuzzTarget {
  readonly name: string;
  /** Words of its format. */
  readonly words: readonly string[];
  /** Small valid inputs to begin from. */
  seeds(): readonly Uint8Array[] | Promise<readonly Uint8Array[]>;
  /** Whether each input is also written to a file, whose path `run` is then given. */
  readonly onDisk?: boolean;
  /** Longest input in bytes; 60,000 unless told. */
  readonly largestBytes?: number;
  /** Most processor seconds that one input may take; 5 unless told. */
  readonly longestS?: number;
  /** Reads an input; the answer tells kinds of outcome apart. Refusals are thrown as `InputError` or `StoreError`. */
  run(input: Uint8Array, path: string): string | Promise<string>;
}
