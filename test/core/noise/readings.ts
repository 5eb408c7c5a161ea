import type { NoiseParameters } from "../../../src/core/noise/noise-parameters.js";

/** Uneven times with a long gap, and unequal numbers of raw readings. */
export const timesS = Float64Array.of(
  3,
  3.1,
  3.3,
  3.35,
  3.9,
  4.6,
  4.6,
  5.2,
  5.9,
  6.05,
  6.4,
  7.7,
  8,
  8.4,
  8.45,
  9.3,
  9.9,
  10.4,
  24,
  24.3,
  24.9,
  25.2,
  26.8,
  27,
  27.1,
  27.9,
);
export const readingCounts = Float64Array.from(timesS, (_, i) => 1 + (i % 4));

/** Some volts that nothing depends on: a sum of tones. */
export const residualsV = timesS.map(
  (t, i) => 0.03 * Math.sin(7 * t) + 0.05 * Math.cos(0.6 * t) + 0.01 * ((i * i) % 7),
);

/** Each part of the noise on its own beside white, and all of them together. */
export const noises: readonly (readonly [name: string, noise: NoiseParameters])[] = [
  ["white alone", { whiteV: 0.02, colouredV: 1e-9, colouredTimeS: 1, walkVPerSqrtS: 1e-9, bendVPerS15: 1e-9 }],
  ["coloured", { whiteV: 0.01, colouredV: 0.03, colouredTimeS: 0.8, walkVPerSqrtS: 1e-9, bendVPerS15: 1e-9 }],
  ["random walk", { whiteV: 0.01, colouredV: 1e-9, colouredTimeS: 1, walkVPerSqrtS: 0.01, bendVPerS15: 1e-9 }],
  ["random slope", { whiteV: 0.01, colouredV: 1e-9, colouredTimeS: 1, walkVPerSqrtS: 1e-9, bendVPerS15: 0.004 }],
  ["all parts", { whiteV: 0.015, colouredV: 0.02, colouredTimeS: 0.6, walkVPerSqrtS: 0.006, bendVPerS15: 0.003 }],
];
