import { type DialStyle, trueAngle } from "./face.js";

export type Print = NonNullable<DialStyle["print"]>;

/** A coloured band of the scale between two voltages and two radii. */
export function arcPrint(
  style: DialStyle,
  [fromV, toV]: readonly [number, number],
  [inner, outer]: readonly [number, number],
  level: number,
): Print {
  const [from, to] = [trueAngle(style, fromV), trueAngle(style, toV)];
  return (x, y, soft) => {
    const [radius, angle] = [Math.hypot(x, y), Math.atan2(x, -y)];
    const along = soft((from - angle) * radius) * soft((angle - to) * radius);
    return { share: soft(Math.max(inner - radius, radius - outer)) * along, level };
  };
}

/** A radial stroke at a voltage. */
export function radialPrint(
  style: DialStyle,
  volts: number,
  [inner, outer]: readonly [number, number],
  level: number,
  halfWidth = 0.012,
): Print {
  const [sin, cos] = [Math.sin(trueAngle(style, volts)), Math.cos(trueAngle(style, volts))];
  return (x, y, soft) => {
    const along = x * sin - y * cos;
    const across = Math.abs(x * cos + y * sin);
    return { share: soft(Math.max(across - halfWidth, inner - along, along - outer)), level };
  };
}

/** Several prints, of which the strongest shows. */
export function prints(...all: readonly Print[]): Print {
  return (x, y, soft) =>
    all.map((print) => print(x, y, soft)).reduce((best, next) => (next.share > best.share ? next : best));
}

/** A second scale of so many divisions over the same sweep. */
export function innerScale(style: DialStyle, divisions: number, level: number): Print {
  const strokes = Array.from({ length: divisions + 1 }, (_, index) =>
    radialPrint(style, (index / divisions) * style.fullScaleV, [0.72, 0.79], level, 0.006),
  );
  return prints(...strokes);
}
