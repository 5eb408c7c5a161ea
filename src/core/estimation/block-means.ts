/** Means of blocks of `blockLength` values; the last block may be shorter. */
export function blockMeans(values: Float64Array, blockLength: number): Float64Array {
  const means = new Float64Array(Math.ceil(values.length / blockLength));
  for (let block = 0; block < means.length; block++) {
    const end = Math.min(values.length, (block + 1) * blockLength);
    let sum = 0;
    for (let k = block * blockLength; k < end; k++) sum += values[k];
    means[block] = sum / (end - block * blockLength);
  }
  return means;
}
