/** Parameters b1, b2, ... as b[0], b[1], ... */
export type Model = (b: ArrayLike<number>, x: number, x2: number) => number;

const { exp, sin, cos, atan, PI } = Math;

const saturation: Model = (b, x) => b[0] * (1 - exp(-b[1] * x));
const decayOverLine: Model = (b, x) => exp(-b[0] * x) / (b[1] + b[2] * x);
const decayAndBells: Model = (b, x) =>
  b[0] * exp(-b[1] * x) + b[2] * exp(-((x - b[3]) ** 2) / b[4] ** 2) + b[5] * exp(-((x - b[6]) ** 2) / b[7] ** 2);
const threeDecays: Model = (b, x) => b[0] * exp(-b[1] * x) + b[2] * exp(-b[3] * x) + b[4] * exp(-b[5] * x);
const cubicOverCubic: Model = (b, x) =>
  (b[0] + b[1] * x + b[2] * x ** 2 + b[3] * x ** 3) / (1 + b[4] * x + b[5] * x ** 2 + b[6] * x ** 3);

/** Models of the nonlinear sets, as printed in each file. */
export const models: Record<string, Model> = {
  Bennett5: (b, x) => b[0] * (b[1] + x) ** (-1 / b[2]),
  BoxBOD: saturation,
  Chwirut1: decayOverLine,
  Chwirut2: decayOverLine,
  DanWood: (b, x) => b[0] * x ** b[1],
  Eckerle4: (b, x) => (b[0] / b[1]) * exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
  ENSO: (b, x) =>
    b[0] +
    b[1] * cos((2 * PI * x) / 12) +
    b[2] * sin((2 * PI * x) / 12) +
    b[4] * cos((2 * PI * x) / b[3]) +
    b[5] * sin((2 * PI * x) / b[3]) +
    b[7] * cos((2 * PI * x) / b[6]) +
    b[8] * sin((2 * PI * x) / b[6]),
  Gauss1: decayAndBells,
  Gauss2: decayAndBells,
  Gauss3: decayAndBells,
  Hahn1: cubicOverCubic,
  Kirby2: (b, x) => (b[0] + b[1] * x + b[2] * x ** 2) / (1 + b[3] * x + b[4] * x ** 2),
  Lanczos1: threeDecays,
  Lanczos2: threeDecays,
  Lanczos3: threeDecays,
  MGH09: (b, x) => (b[0] * (x ** 2 + x * b[1])) / (x ** 2 + x * b[2] + b[3]),
  MGH10: (b, x) => b[0] * exp(b[1] / (x + b[2])),
  MGH17: (b, x) => b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]),
  Misra1a: saturation,
  Misra1b: (b, x) => b[0] * (1 - (1 + (b[1] * x) / 2) ** -2),
  Misra1c: (b, x) => b[0] * (1 - (1 + 2 * b[1] * x) ** -0.5),
  Misra1d: (b, x) => (b[0] * b[1] * x) / (1 + b[1] * x),
  // The response is the logarithm of the strength.
  Nelson: (b, x, x2) => b[0] - b[1] * x * exp(-b[2] * x2),
  Rat42: (b, x) => b[0] / (1 + exp(b[1] - b[2] * x)),
  Rat43: (b, x) => b[0] / (1 + exp(b[1] - b[2] * x)) ** (1 / b[3]),
  Roszman1: (b, x) => b[0] - b[1] * x - atan(b[2] / (x - b[3])) / PI,
  Thurber: cubicOverCubic,
};

/** Which parameters of a separable model are linear; the rest are shape parameters. */
export const linearParameters: Record<string, readonly number[]> = {
  Bennett5: [0],
  BoxBOD: [0],
  DanWood: [0],
  Eckerle4: [0],
  ENSO: [0, 1, 2, 4, 5, 7, 8],
  Gauss1: [0, 2, 5],
  Gauss2: [0, 2, 5],
  Gauss3: [0, 2, 5],
  Hahn1: [0, 1, 2, 3],
  Kirby2: [0, 1, 2],
  Lanczos1: [0, 2, 4],
  Lanczos2: [0, 2, 4],
  Lanczos3: [0, 2, 4],
  MGH09: [0],
  MGH10: [0],
  MGH17: [0, 1, 2],
  Misra1a: [0],
  Misra1b: [0],
  Misra1c: [0],
  Misra1d: [0],
  Nelson: [0, 1],
  Rat42: [0],
  Rat43: [0],
  Thurber: [0, 1, 2, 3],
};
