/** In-place complex Fourier transform of a power-of-two length, sign -1; scale 1. */
export function fourierTransform(real: Float64Array, imaginary: Float64Array): void {
  const n = real.length;
  if (n === 0 || (n & (n - 1)) !== 0) throw new RangeError(`Cannot transform: the length must be a power of two: ${n}`);
  reverseBits(real, imaginary);
  for (let half = 1; half < n; half *= 2) {
    for (let k = 0; k < half; k++) {
      const angle = (-Math.PI * k) / half;
      const c = Math.cos(angle);
      const s = Math.sin(angle);
      for (let i = k; i < n; i += 2 * half) {
        const j = i + half;
        const re = real[j] * c - imaginary[j] * s;
        const im = real[j] * s + imaginary[j] * c;
        real[j] = real[i] - re;
        imaginary[j] = imaginary[i] - im;
        real[i] += re;
        imaginary[i] += im;
      }
    }
  }
}

/** Smallest power of two that is not below the number. */
export function powerOfTwoAtLeast(n: number): number {
  let size = 1;
  while (size < n) size *= 2;
  return size;
}

function reverseBits(real: Float64Array, imaginary: Float64Array): void {
  const n = real.length;
  for (let i = 1, j = 0; i < n; i++) {
    let bit = n >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) {
      [real[i], real[j]] = [real[j], real[i]];
      [imaginary[i], imaginary[j]] = [imaginary[j], imaginary[i]];
    }
  }
}
