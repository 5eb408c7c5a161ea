/** A plane smoothed by a Gaussian of the given standard deviation, edges held. */
export function gaussianBlur(plane: Float32Array, width: number, height: number, sigmaPx: number): Float32Array {
  const reach = Math.max(1, Math.ceil(3 * sigmaPx));
  const weights = Float32Array.from({ length: 2 * reach + 1 }, (_, k) => Math.exp(-0.5 * ((k - reach) / sigmaPx) ** 2));
  const sum = weights.reduce((total, value) => total + value, 0);
  const kernel = weights.map((value) => value / sum);
  const padded = new Float32Array(width + 2 * reach);
  const across = new Float32Array(plane.length);
  for (let row = 0; row < height; row++) {
    const line = plane.subarray(row * width, (row + 1) * width);
    padded.fill(line[0]!, 0, reach).set(line, reach);
    padded.fill(line[width - 1]!, reach + width);
    for (let column = 0; column < width; column++) {
      let value = 0;
      for (let k = 0; k < kernel.length; k++) value += kernel[k]! * padded[column + k]!;
      across[row * width + column] = value;
    }
  }
  const result = new Float32Array(plane.length);
  for (let row = 0; row < height; row++) {
    const into = result.subarray(row * width, (row + 1) * width);
    for (let k = -reach; k <= reach; k++) {
      const from = Math.max(0, Math.min(height - 1, row + k)) * width;
      const weight = kernel[k + reach]!;
      for (let column = 0; column < width; column++) into[column]! += weight * across[from + column]!;
    }
  }
  return result;
}
