/** A dial as a draughtsman would order it; lengths in units of the scale radius, angles clockwise from up. */
export interface DialStyle {
  readonly startDeg: number;
  /** Signed: positive runs clockwise. */
  readonly sweepDeg: number;
  readonly fullScaleV: number;
  readonly divisionV: number;
  readonly majorV: number;
  /** Fraction of the sweep at a fraction of full scale; even when left out. */
  readonly law?: (fraction: number) => number;
  readonly lightOnDark?: boolean;
  readonly arc?: boolean;
  readonly needle?: "taper" | "bar" | "hand";
  readonly tail?: number;
  readonly cover?: number;
  readonly bezel?: "round" | "square" | "none";
  readonly numbers?: boolean;
  readonly clutter?: boolean;
  readonly tickLength?: number;
  /** What else is printed: share of ink at a place (x right, y down from the pivot), and its gray level. */
  readonly print?: (x: number, y: number, soft: (distance: number) => number) => { share: number; level: number };
  readonly needleLength?: number;
  readonly needleLevel?: number;
}

/** The angle of a voltage on a dial, radians clockwise from up: the truth of every test. */
export function trueAngle(style: DialStyle, volts: number): number {
  const fraction = volts / style.fullScaleV;
  const bent = style.law === undefined ? fraction : style.law(fraction);
  return ((style.startDeg + style.sweepDeg * bent) * Math.PI) / 180;
}

/** Printed face and panel around it, painted once on a square of half-width `reach` scale radii. */
export interface FaceTexture {
  readonly size: number;
  readonly reach: number;
  readonly values: Float32Array;
}

/** Paints what does not move; `texelsPerRadius` should be about twice the pixels per radius of the picture. */
export function paintFace(style: DialStyle, texelsPerRadius: number, reach = 1.9): FaceTexture {
  const size = Math.ceil(2 * reach * texelsPerRadius);
  const values = new Float32Array(size * size);
  const ticks: { sin: number; cos: number; outer: number; half: number }[] = [];
  const long = style.tickLength ?? 0.11;
  const count = Math.round(style.fullScaleV / style.divisionV);
  for (let index = 0; index <= count; index++) {
    const volts = index * style.divisionV;
    const angle = trueAngle(style, volts);
    const major = Math.abs(volts / style.majorV - Math.round(volts / style.majorV)) < 1e-6;
    ticks.push({
      sin: Math.sin(angle),
      cos: Math.cos(angle),
      outer: major ? 1 + long : 1 + long * 0.6,
      half: major ? 0.0085 : 0.005,
    });
  }
  const ink = style.lightOnDark ? 205 : 40;
  const paper = style.lightOnDark ? 45 : 200;
  const texel = 1 / texelsPerRadius;
  const soft = (distance: number) => 1 / (1 + Math.exp(distance / (0.45 * texel)));
  const mid = trueAngle(style, style.fullScaleV / 2);
  const faceX = 0.25 * Math.sin(mid);
  const faceY = -0.25 * Math.cos(mid);
  const paint = (x: number, y: number): number => {
    const radius = Math.hypot(x, y);
    let mark = 0;
    if (radius > 0.95 && radius < 1.2) mark = scaleInk(style, ticks, x, y, soft);
    if (style.numbers !== false) mark = Math.max(mark, numberInk(style, x, y, radius, soft));
    const far = Math.max(Math.abs(x - faceX), Math.abs(y - faceY));
    const round = Math.hypot(x - faceX, y - faceY);
    const edge = style.bezel === "square" ? far - 1.3 : style.bezel === "none" ? -1 : round - 1.42;
    let value = paper;
    const more = style.print?.(x, y, soft);
    if (more !== undefined) value += (more.level - value) * more.share;
    value += (ink - value) * mark;
    if (edge > 0) value = edge < 0.12 ? 28 : 96 + panelTexture(x, y, style.clutter === true, soft);
    else value *= 1 - 0.4 * soft(Math.abs(edge) - 0.012);
    return value;
  };
  for (let row = 0; row < size; row++) {
    for (let column = 0; column < size; column++)
      values[row * size + column] = paint((column + 0.5) * texel - reach, (row + 0.5) * texel - reach);
  }
  return { size, reach, values };
}

interface Stroke {
  readonly sin: number;
  readonly cos: number;
  readonly outer: number;
  readonly half: number;
}

function scaleInk(
  style: DialStyle,
  ticks: readonly Stroke[],
  x: number,
  y: number,
  soft: (d: number) => number,
): number {
  let mark = 0;
  for (const tick of ticks) {
    const along = x * tick.sin - y * tick.cos;
    if (along < 0.9) continue;
    const across = Math.abs(x * tick.cos + y * tick.sin);
    mark = Math.max(mark, soft(Math.max(across - tick.half, 1 - along, along - tick.outer)));
  }
  if (style.arc === false) return mark;
  const turn = Math.atan2(x, -y);
  const from = (((turn * 180) / Math.PI - style.startDeg) * Math.sign(style.sweepDeg) + 720) % 360;
  if (from > Math.abs(style.sweepDeg)) return mark;
  return Math.max(mark, soft(Math.abs(Math.hypot(x, y) - 1) - 0.004));
}

/** Blocks where figures would stand, inside the scale, and a word below the middle. */
function numberInk(style: DialStyle, x: number, y: number, radius: number, soft: (d: number) => number): number {
  let mark = 0;
  if (radius > 1.14 && radius < 1.36) {
    for (let volts = 0; volts <= style.fullScaleV + 1e-9; volts += style.majorV) {
      const angle = trueAngle(style, volts);
      const u = x - 1.24 * Math.sin(angle);
      const v = y + 1.24 * Math.cos(angle);
      if (Math.abs(u) > 0.1 || Math.abs(v) > 0.1) continue;
      const ring = Math.abs(Math.max(Math.abs(u + 0.035) * 1.4, Math.abs(v)) - 0.045) - 0.008;
      const stem = Math.max(Math.abs(u - 0.045) - 0.01, Math.abs(v) - 0.05);
      mark = Math.max(mark, soft(Math.min(ring, stem)));
    }
  }
  if (Math.abs(y + 0.36) < 0.09 && Math.abs(x) < 0.4 && radius < 0.9) {
    const u = (((x + 0.4) / 0.16) % 1) * 0.16 - 0.08;
    const stroke = Math.abs(Math.abs(u) - (y + 0.36 + 0.09) * 0.3) - 0.012;
    mark = Math.max(mark, soft(Math.max(stroke, Math.abs(y + 0.36) - 0.06)));
  }
  return mark;
}

function panelTexture(x: number, y: number, clutter: boolean, soft: (d: number) => number): number {
  let value = 9 * Math.sin(31 * x + 4 * Math.sin(17 * y)) * Math.sin(27 * y + 3 * Math.sin(11 * x));
  for (const [u, v] of [
    [-1.45, -1.35],
    [1.45, -1.35],
    [-1.45, 1.1],
    [1.45, 1.1],
  ] as const) {
    const radius = Math.hypot(x - u, y - v);
    value +=
      70 * soft(radius - 0.11) - 90 * soft(Math.max(Math.abs((x - u) * 0.8 + (y - v) * 0.6) - 0.015, radius - 0.1));
  }
  if (clutter) {
    value -= 55 * soft(Math.abs(y - 1.55 + 0.1 * x) - 0.03);
    value += 50 * soft(Math.abs(x + 1.6) - 0.025);
    value -= 50 * soft(Math.max(Math.abs(Math.abs(x * 9) % 1) - 0.4, Math.abs(y + 1.65) - 0.06));
  }
  return value;
}
