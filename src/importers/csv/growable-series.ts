/** Numbers appended one by one to a flat array that grows by half; `finish` gives them without copying. */
export class GrowableSeries {
  values: Float64Array;
  count = 0;

  constructor(expectedCount = 1024) {
    this.values = new Float64Array(Math.max(16, expectedCount));
  }

  push(value: number): void {
    if (this.count === this.values.length) this.reserve(this.count + 1);
    this.values[this.count] = value;
    this.count += 1;
  }

  /** Appends `count` numbers that `write` puts into the array from a place on. */
  append(count: number, write: (into: Float64Array, from: number) => void): void {
    this.reserve(this.count + count);
    write(this.values, this.count);
    this.count += count;
  }

  /** Makes room for `count` numbers in all. */
  reserve(count: number): void {
    if (count <= this.values.length) return;
    const larger = new Float64Array(this.count === 0 ? count : Math.max(count, Math.ceil(this.values.length * 1.5)));
    larger.set(this.values.subarray(0, this.count));
    this.values = larger;
  }

  finish(): Float64Array {
    return this.values.subarray(0, this.count);
  }
}
