/** Values that are not yet in the pieces: their weight, mean and weighted sum of squares about it. */
export interface LevelWindow {
  readonly weight: number;
  readonly mean: number;
  readonly squares: number;
}

/**
 * The least cost of a series so far, as a function of the level of its last segment: piecewise quadratic.
 *
 * Piece k covers `(right[k - 1], right[k]]`, reads `least[k] + curvature[k] (level - vertex[k])^2`, and belongs to the
 * candidate start `starts[k]`. Vertices instead of polynomial coefficients, because the latter cancel on long segments.
 */
export class CostPieces {
  size = 0;
  /** Candidate start and level of the least cost last asked for. */
  leastStart = 0;
  leastLevel = 0;
  right: Float64Array;
  curvature: Float64Array;
  vertex: Float64Array;
  least: Float64Array;
  starts: Int32Array;

  /** The cost of no values at all. */
  static zero(high: number): CostPieces {
    const pieces = new CostPieces(64);
    pieces.size = 1;
    pieces.right[0] = high;
    return pieces;
  }

  private constructor(capacity: number) {
    this.right = new Float64Array(capacity);
    this.curvature = new Float64Array(capacity);
    this.vertex = new Float64Array(capacity);
    this.least = new Float64Array(capacity);
    this.starts = new Int32Array(capacity);
  }

  /** Adds `weight (value - level)^2` to every piece. */
  add(value: number, weight: number): void {
    const { curvature, vertex, least, size } = this;
    for (let k = 0; k < size; k++) {
      const old = curvature[k];
      const sum = old + weight;
      const away = value - vertex[k];
      const share = (weight * away) / sum;
      curvature[k] = sum;
      vertex[k] += share;
      least[k] += old * away * share;
    }
  }

  /** Both {@link add} and {@link findLeast} in one pass. */
  addAndFindLeast(value: number, weight: number, low: number): number {
    const { right, curvature, vertex, least, size } = this;
    let best = Number.POSITIVE_INFINITY;
    let bestPiece = 0;
    let left = low;
    for (let k = 0; k < size; k++) {
      const old = curvature[k];
      const sum = old + weight;
      const away = value - vertex[k];
      const share = (weight * away) / sum;
      const newVertex = vertex[k] + share;
      const newLeast = least[k] + old * away * share;
      const end = right[k];
      curvature[k] = sum;
      vertex[k] = newVertex;
      least[k] = newLeast;
      if (newLeast < best) {
        const outside = distanceOutside(newVertex, left, end);
        const cost = newLeast + sum * outside * outside;
        if (cost < best) {
          best = cost;
          bestPiece = k;
        }
      }
      left = end;
    }
    this.leastStart = this.starts[bestPiece];
    return best;
  }

  /** Least cost over all levels; leaves the candidate start that attains it in `leastStart`. */
  findLeast(low: number): number {
    const { right, curvature, vertex, least, size } = this;
    let best = Number.POSITIVE_INFINITY;
    let bestPiece = 0;
    let left = low;
    for (let k = 0; k < size; k++) {
      if (least[k] < best) {
        const away = distanceOutside(vertex[k], left, right[k]);
        const cost = least[k] + curvature[k] * away * away;
        if (cost < best) {
          best = cost;
          bestPiece = k;
        }
      }
      left = right[k];
    }
    this.leastStart = this.starts[bestPiece];
    this.leastLevel = Math.min(
      Math.max(vertex[bestPiece], bestPiece === 0 ? low : right[bestPiece - 1]),
      right[bestPiece],
    );
    return best;
  }

  /** The same with the values of the window added to every piece. */
  findLeastWith(window: LevelWindow, low: number): number {
    const { right, curvature, vertex, least, size } = this;
    let best = Number.POSITIVE_INFINITY;
    let bestPiece = 0;
    let left = low;
    for (let k = 0; k < size; k++) {
      const sum = curvature[k] + window.weight;
      const apart = window.mean - vertex[k];
      const share = (window.weight * apart) / sum;
      const away = distanceOutside(vertex[k] + share, left, right[k]);
      const cost = least[k] + window.squares + curvature[k] * apart * share + sum * away * away;
      if (cost < best) {
        best = cost;
        bestPiece = k;
      }
      left = right[k];
    }
    this.leastStart = this.starts[bestPiece];
    return best;
  }

  /** Writes to `out` the lower envelope of these pieces and the constant `price` of a segment starting at `start`. */
  offer(price: number, start: number, low: number, out: CostPieces): void {
    const { right, curvature, vertex, least, size } = this;
    out.reserve(2 * size + 1);
    out.size = 0;
    let left = low;
    for (let k = 0; k < size; k++) {
      const end = right[k];
      const room = price - least[k];
      const toLeft = left - vertex[k];
      const toRight = end - vertex[k];
      const bend = curvature[k];
      if (room <= 0) out.extend(end, price, start);
      else if (bend * toLeft * toLeft <= room && bend * toRight * toRight <= room) {
        out.append(end, bend, vertex[k], least[k], this.starts[k]);
      } else this.offerPart(k, left, price, start, out);
      left = end;
    }
  }

  /** Piece `k` where only a part of it lies below the price. */
  private offerPart(k: number, left: number, price: number, start: number, out: CostPieces): void {
    const end = this.right[k];
    const reach = Math.sqrt((price - this.least[k]) / this.curvature[k]);
    const from = Math.max(left, this.vertex[k] - reach);
    const to = Math.min(end, this.vertex[k] + reach);
    if (from >= to) {
      out.extend(end, price, start);
      return;
    }
    if (from > left) out.extend(from, price, start);
    out.append(to, this.curvature[k], this.vertex[k], this.least[k], this.starts[k]);
    if (to < end) out.extend(end, price, start);
  }

  /** Writes to `out` these pieces plus `weight min(|level - value|, limit)^2`. */
  addBounded(value: number, weight: number, limit: number, low: number, out: CostPieces): void {
    const { right, size } = this;
    out.reserve(size + 2);
    out.size = 0;
    let left = low;
    for (let k = 0; k < size; k++) {
      const end = right[k];
      if (left < value - limit) this.copyRaised(k, Math.min(end, value - limit), weight * limit * limit, out);
      if (end > value - limit && left < value + limit) {
        this.copyBent(k, Math.min(end, value + limit), value, weight, out);
      }
      if (end > value + limit) this.copyRaised(k, end, weight * limit * limit, out);
      left = end;
    }
  }

  private copyRaised(k: number, right: number, by: number, out: CostPieces): void {
    out.append(right, this.curvature[k], this.vertex[k], this.least[k] + by, this.starts[k]);
  }

  private copyBent(k: number, right: number, value: number, weight: number, out: CostPieces): void {
    const sum = this.curvature[k] + weight;
    const away = value - this.vertex[k];
    const share = (weight * away) / sum;
    out.append(right, sum, this.vertex[k] + share, this.least[k] + this.curvature[k] * away * share, this.starts[k]);
  }

  private append(right: number, curvature: number, vertex: number, least: number, start: number): void {
    const k = this.size++;
    this.right[k] = right;
    this.curvature[k] = curvature;
    this.vertex[k] = vertex;
    this.least[k] = least;
    this.starts[k] = start;
  }

  private extend(right: number, price: number, start: number): void {
    const last = this.size - 1;
    if (last >= 0 && this.starts[last] === start) this.right[last] = right;
    else this.append(right, 0, 0, price, start);
  }

  private reserve(capacity: number): void {
    if (capacity <= this.right.length) return;
    const bigger = new CostPieces(2 * capacity);
    this.right = bigger.right;
    this.curvature = bigger.curvature;
    this.vertex = bigger.vertex;
    this.least = bigger.least;
    this.starts = bigger.starts;
  }
}

function distanceOutside(x: number, left: number, right: number): number {
  if (x < left) return left - x;
  return x > right ? x - right : 0;
}

/** Range of the levels to be searched: that of the values, a hair wider so that no vertex falls outside by rounding. */
export function levelRange(values: Float64Array): { low: number; high: number } {
  let low = values[0];
  let high = values[0];
  for (const value of values) {
    if (value < low) low = value;
    else if (value > high) high = value;
  }
  const margin = 1e-9 * (high - low) + 1e-12 * Math.max(Math.abs(low), Math.abs(high)) + Number.MIN_VALUE;
  return { low: low - margin, high: high + margin };
}
