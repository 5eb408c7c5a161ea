/** Quality factors of the two second-order sections of a fourth-order Butterworth filter. */
const SECTION_Q = [0.541196, 1.306563];

/**
 * Fourth-order Butterworth high-pass, as two second-order sections.
 *
 * Coefficients by the bilinear transform (W3C Audio EQ Cookbook note, high-pass).
 */
export function highPassed(samples: Float32Array, sampleRateHz: number, cornerHz: number): Float32Array {
  let from = samples;
  const result = new Float32Array(samples.length);
  for (const q of SECTION_Q) {
    const turn = (2 * Math.PI * cornerHz) / sampleRateHz;
    const alpha = Math.sin(turn) / (2 * q);
    const cos = Math.cos(turn);
    const a0 = 1 + alpha;
    const [b0, b1, a1, a2] = [(1 + cos) / 2 / a0, -(1 + cos) / a0, (-2 * cos) / a0, (1 - alpha) / a0];
    let [x1, x2, y1, y2] = [0, 0, 0, 0];
    for (let k = 0; k < from.length; k++) {
      const x = from[k]!;
      const y = b0 * (x + x2) + b1 * x1 - a1 * y1 - a2 * y2;
      x2 = x1;
      x1 = x;
      y2 = y1;
      y1 = y;
      result[k] = y;
    }
    from = result;
  }
  return result;
}
