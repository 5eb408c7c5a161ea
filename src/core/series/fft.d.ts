/** The part of `fft.js` that is used here: a radix-4 transform of interleaved complex numbers. */
declare module "fft.js" {
  class FFT {
    /** @throws Error where the size is no power of two above one */
    constructor(size: number);
    createComplexArray(): number[];
    realTransform(output: number[], data: ArrayLike<number>): void;
    completeSpectrum(spectrum: number[]): void;
    inverseTransform(output: number[], spectrum: ArrayLike<number>): void;
  }
  export = FFT;
}
