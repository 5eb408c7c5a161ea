/**
 * What one switched load does to the reading, per volt of `depthV` = steady current x ohmic resistance.
 *
 * Current 1 + inrush e^(-t / settleS) while on; battery ohmic part 1 and one RC part `polarization`; then the meter.
 * All parts are linear and time-invariant, so each edge adds a sum of exponentials: exact at any sub-sample time.
 */
export interface DipShape {
  /** Extra current at switching on, as a share of the settled current. */
  readonly inrush: number;
  readonly settleS: number;
  /** RC resistance over ohmic resistance. */
  readonly polarization: number;
  readonly polarizationTimeS: number;
  /** Mean delay of the meter; 0 for none. */
  readonly lagS: number;
  /** 1: one time constant; 2: a needle with damping ratio 0.7. */
  readonly lagOrder: 1 | 2;
}

export interface OnTime {
  readonly onS: number;
  readonly offS: number;
}

/** Reading's fall at the given times per volt of depth; positive while the load is on. */
export function dipTrain(shape: DipShape, onTimes: readonly OnTime[], timesS: Float64Array): Float64Array {
  const fall = new Float64Array(timesS.length);
  const settled = edgeResponse(shape, 0);
  const extra = shape.inrush === 0 ? null : edgeResponse(shape, 1 / shape.settleS);
  for (const { onS, offS } of onTimes) {
    const left = Math.exp(-(offS - onS) / shape.settleS);
    for (let i = 0; i < timesS.length; i++) {
      const sinceOnS = timesS[i] - onS;
      if (sinceOnS < 0) continue;
      fall[i] += settled(sinceOnS);
      if (extra !== null) fall[i] += shape.inrush * extra(sinceOnS);
      const sinceOffS = timesS[i] - offS;
      if (sinceOffS < 0) continue;
      fall[i] -= settled(sinceOffS);
      if (extra !== null) fall[i] -= shape.inrush * left * extra(sinceOffS);
    }
  }
  return fall;
}

/** The same without the meter, for one load that stays on from time zero. */
export function terminalFall(shape: DipShape, sinceOnS: number): number {
  return edgeResponse({ ...shape, lagS: 0 }, 0)(sinceOnS) + inrushPart(shape, sinceOnS);
}

/** Mean of `terminalFall` while the load is on, per volt of depth. */
export function meanTerminalFall(shape: DipShape, durationS: number): number {
  const steps = 400;
  let sum = 0;
  for (let k = 0; k < steps; k++) sum += terminalFall(shape, ((k + 0.5) / steps) * durationS);
  return sum / steps;
}

function inrushPart(shape: DipShape, sinceOnS: number): number {
  if (shape.inrush === 0) return 0;
  return shape.inrush * edgeResponse({ ...shape, lagS: 0 }, 1 / shape.settleS)(sinceOnS);
}

interface Complex {
  readonly re: number;
  readonly im: number;
}

/** Response to the input e^(-rate t) from time zero on. */
function edgeResponse(shape: DipShape, rate: number): (sinceS: number) => number {
  const meter = meterPoles(shape);
  const direct = exponentialSum(rate, meter);
  if (shape.polarization === 0) return direct;
  const slow = exponentialSum(rate, [...meter, { re: 1 / shape.polarizationTimeS, im: 0 }]);
  return (sinceS) => direct(sinceS) + shape.polarization * slow(sinceS);
}

function meterPoles({ lagS, lagOrder }: DipShape): readonly Complex[] {
  if (lagS === 0) return [];
  if (lagOrder === 1) return [{ re: 1 / lagS, im: 0 }];
  const damping = 0.7;
  const natural = (2 * damping) / lagS;
  const im = natural * Math.sqrt(1 - damping * damping);
  return [
    { re: natural * damping, im },
    { re: natural * damping, im: -im },
  ];
}

/** Inverse Laplace transform of 1 / (s + rate) x product of p / (s + p), by partial fractions. */
function exponentialSum(rate: number, poles: readonly Complex[]): (sinceS: number) => number {
  const all = separate([{ re: rate, im: 0 }, ...poles]);
  const gain = all.slice(1).reduce(multiply, { re: 1, im: 0 });
  const residues = all.map((own, k) =>
    all.reduce((product, other, j) => (j === k ? product : divide(product, subtract(other, own))), gain),
  );
  return (sinceS) => {
    let sum = 0;
    for (let k = 0; k < all.length; k++) {
      const decay = Math.exp(-all[k].re * sinceS);
      const turn = all[k].im * sinceS;
      sum += decay * (residues[k].re * Math.cos(turn) + residues[k].im * Math.sin(turn));
    }
    return sum;
  };
}

/** Moves equal poles apart by one part in 10^4, far below what any reading shows. */
function separate(poles: readonly Complex[]): Complex[] {
  const apart: Complex[] = [];
  for (const pole of poles) {
    let moved = pole;
    while (
      apart.some(
        (other) => Math.hypot(other.re - moved.re, other.im - moved.im) < 5e-5 * Math.hypot(moved.re, moved.im),
      )
    ) {
      moved = { re: moved.re * (1 + 1e-4), im: moved.im };
    }
    apart.push(moved);
  }
  return apart;
}

function multiply(a: Complex, b: Complex): Complex {
  return { re: a.re * b.re - a.im * b.im, im: a.re * b.im + a.im * b.re };
}

function subtract(a: Complex, b: Complex): Complex {
  return { re: a.re - b.re, im: a.im - b.im };
}

function divide(a: Complex, b: Complex): Complex {
  const square = b.re * b.re + b.im * b.im;
  return { re: (a.re * b.re + a.im * b.im) / square, im: (a.im * b.re - a.re * b.im) / square };
}
