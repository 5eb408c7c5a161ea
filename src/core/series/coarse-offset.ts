import FFT from "fft.js";
import type { EvenGrid } from "./even-grid.js";

/** One shift of the current's clock at which its course resembles that of the voltage. */
export interface OffsetCandidate {
  /** To be added to the current's times, s. */
  readonly offsetS: number;
  /** Correlation of the two courses, scaled by the current's own size within the overlap: V. */
  readonly scoreV: number;
}

/** The courses must overlap in at least this share of the shorter. */
const LEAST_OVERLAP = 0.1;

/**
 * The best shift and the best other one, by cross-correlation over all shifts within `reachS`.
 *
 * Either sign of the current counts. What falls from the best down to half of it belongs to the best. Null where nothing
 * overlaps.
 */
export function coarseOffsets(
  voltage: EvenGrid,
  current: EvenGrid,
  reachS: number,
): { readonly best: OffsetCandidate; readonly other: OffsetCandidate | null } | null {
  const { stepS } = voltage;
  const score = scores(voltage, current);
  const size = score.length;
  const startS = voltage.startS - current.startS;
  // In the order of offsets: the cyclic shifts from the most negative on.
  const offsets = Array.from({ length: size }, (_, i) => i - size / 2).filter(
    (k) => Math.abs(startS + k * stepS) <= reachS,
  );
  const sizeAt = (i: number): number => score[(offsets[i]! + size) % size]!;
  const largest = (skipFrom: number, skipTo: number): number => {
    let at = -1;
    for (let i = 0; i < offsets.length; i += 1) {
      if (i >= skipFrom && i < skipTo) continue;
      if (at < 0 || Math.abs(sizeAt(i)) > Math.abs(sizeAt(at))) at = i;
    }
    return at;
  };
  const best = largest(0, 0);
  if (best < 0 || sizeAt(best) === 0) return null;
  const belongs = (i: number): boolean => i >= 0 && i < offsets.length && sizeAt(i) / sizeAt(best) > 0.5;
  let [from, to] = [best, best + 1];
  while (belongs(from - 1)) from -= 1;
  while (belongs(to)) to += 1;
  const other = largest(from, to);
  const candidate = (i: number): OffsetCandidate => ({ offsetS: startS + offsets[i]! * stepS, scoreV: sizeAt(i) });
  return { best: candidate(best), other: other < 0 ? null : candidate(other) };
}

/** Correlation at every cyclic shift, divided by the root of the current's energy in the overlap. */
function scores(voltage: EvenGrid, current: EvenGrid): Float64Array {
  let size = 4;
  while (size < voltage.values.length + current.values.length) size *= 2;
  const fft = new FFT(size);
  const squares = current.values.map((value) => value * value);
  const product = correlate(fft, size, voltage.values, current.values);
  const energy = correlate(fft, size, voltage.mask, squares);
  const overlap = correlate(fft, size, voltage.mask, current.mask);
  const least = LEAST_OVERLAP * Math.min(sum(voltage.mask), sum(current.mask));
  // A shift that leaves next to nothing of the current's course proves nothing.
  const leastEnergy = 0.2 * sum(squares);
  return product.map((value, k) =>
    overlap[k]! < least || energy[k]! < leastEnergy ? 0 : value / Math.sqrt(energy[k]!),
  );
}

/** `sum over t of a(t + k) b(t)` for every cyclic shift k. */
function correlate(fft: FFT, size: number, a: Float64Array, b: Float64Array): Float64Array {
  const spectrumA = spectrumOf(fft, size, a);
  const spectrumB = spectrumOf(fft, size, b);
  for (let k = 0; k < 2 * size; k += 2) {
    const [ar, ai, br, bi] = [spectrumA[k]!, spectrumA[k + 1]!, spectrumB[k]!, spectrumB[k + 1]!];
    spectrumA[k] = ar * br + ai * bi;
    spectrumA[k + 1] = ai * br - ar * bi;
  }
  const out = fft.createComplexArray();
  fft.inverseTransform(out, spectrumA);
  return Float64Array.from({ length: size }, (_, k) => out[2 * k]!);
}

function spectrumOf(fft: FFT, size: number, values: Float64Array): number[] {
  const padded = new Array<number>(size).fill(0);
  for (let i = 0; i < values.length; i += 1) padded[i] = values[i]!;
  const out = fft.createComplexArray();
  fft.realTransform(out, padded);
  fft.completeSpectrum(out);
  return out;
}

function sum(values: Float64Array): number {
  return values.reduce((total, value) => total + value, 0);
}
