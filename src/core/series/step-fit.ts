import type { SharedStep, StepNoise } from "./fine-offset.js";
import { SLOPE_READINGS, type StepWindow, stepResiduals, stepResponse } from "./step-time-likelihood.js";

/** Lags tried while the noise is judged. */
const LAGS_S = [0, 0.15, 0.3, 0.6];
/** No instrument steps more cleanly than this share of the step. */
const LEAST_SHARE = 0.01;
/** Correlation of neighbours below this cannot be told from none. */
const LEAST_CORRELATION = 0.15;

/** Noise around the steps: what the best step, level and slope of each window leave over. */
export function residualNoise(
  steps: readonly SharedStep[],
  intervals: { readonly voltageIntervalS: number; readonly currentIntervalS: number },
  offsetS: number,
  halfWidthS: number,
): StepNoise {
  const hiddenS = 3 * intervals.currentIntervalS + 0.6;
  const current = pooled(
    steps.map((step) => ({ window: step.current, fromS: step.currentS - hiddenS, toS: step.currentS + hiddenS })),
  );
  const voltage = pooled(
    steps.map((step) => ({
      window: step.voltage,
      fromS: step.currentS + offsetS - halfWidthS - hiddenS,
      toS: step.currentS + offsetS + halfWidthS + hiddenS,
    })),
  );
  return {
    sigmaV: voltage.sigma * Math.sqrt(1 - voltage.correlation ** 2),
    sigmaA: current.sigma,
    correlationV: voltage.correlation,
    voltageIntervalS: intervals.voltageIntervalS,
    currentIntervalS: intervals.currentIntervalS,
  };
}

interface Search {
  readonly window: StepWindow;
  readonly fromS: number;
  readonly toS: number;
}

/** The onset that leaves the least, found on a coarse and then on a fine grid. */
function bestOnset({ window, fromS, toS }: Search, lagS: number): { readonly rss: number; readonly onsetS: number } {
  const among = (firstS: number, stepS: number, count: number): { rss: number; onsetS: number } => {
    const search = { firstS, stepS, count, lagsS: [lagS], correlation: 0, intervalS: 1 };
    const table = stepResiduals(window, search)[0]!;
    const least = table.indexOf(table.reduce((a, b) => Math.min(a, b)));
    return { rss: table[least]!, onsetS: firstS + least * stepS };
  };
  const stepS = (toS - fromS) / 40;
  const coarse = among(fromS, stepS, 41);
  return among(coarse.onsetS - stepS, stepS / 8, 17);
}

/** Standard deviation and correlation of neighbours over all windows, at the lag that fits them best together. */
function pooled(searches: readonly Search[]): { readonly sigma: number; readonly correlation: number } {
  let best: { rss: number; lagS: number; onsets: number[] } | null = null;
  const fits = searches.map((search) => LAGS_S.map((lagS) => bestOnset(search, lagS)));
  LAGS_S.forEach((lagS, l) => {
    const rss = fits.reduce((sum, fit) => sum + fit[l]!.rss, 0);
    if (best === null || rss < best.rss) best = { rss, lagS, onsets: fits.map((fit) => fit[l]!.onsetS) };
  });
  const chosen = best as unknown as { rss: number; lagS: number; onsets: number[] };
  const heights: number[] = [];
  let [products, squares, count] = [0, 0, 0];
  searches.forEach(({ window }, k) => {
    const fit = fitStep(window, chosen.onsets[k]!, chosen.lagS);
    heights.push(Math.abs(fit.height));
    fit.residuals.forEach((residual, i) => {
      squares += residual * residual;
      if (i > 0) products += residual * fit.residuals[i - 1]!;
    });
    count += window.values.length;
  });
  heights.sort((a, b) => a - b);
  // Level, slope, height and onset are taken from each window.
  const free = Math.max(1, count - 4 * searches.length);
  const scatter = Math.sqrt(chosen.rss / free);
  const least = Math.max(LEAST_SHARE * (heights[heights.length >> 1] ?? 0), 1e-12);
  if (scatter < least) return { sigma: least, correlation: 0 };
  // Four fitted numbers a window make neighbours look less alike than they are.
  const raw = squares === 0 ? 0 : products / squares + (3 * searches.length) / count;
  return { sigma: scatter, correlation: raw < LEAST_CORRELATION ? 0 : Math.min(0.95, raw) };
}

/** Height of a step at a known time, and its standard uncertainty from the noise of the readings. */
export function stepHeight(
  window: StepWindow,
  onsetS: number,
  lagS: number,
  noise: StepNoise,
): { readonly height: number; readonly uHeight: number } {
  const { height, size } = fitStep(window, onsetS, lagS);
  const { correlationV, sigmaV } = noise;
  // Correlated readings tell less of a level: as many as a share (1 - r) / (1 + r) of them.
  const sigma = (sigmaV / Math.sqrt(1 - correlationV ** 2)) * Math.sqrt((1 + correlationV) / (1 - correlationV));
  return { height, uHeight: size > 0 ? sigma / Math.sqrt(size) : Number.POSITIVE_INFINITY };
}

function fitStep(
  window: StepWindow,
  onsetS: number,
  lagS: number,
): { readonly height: number; readonly size: number; readonly residuals: Float64Array } {
  const { timesS, values } = window;
  const count = timesS.length;
  const middleS = (timesS[0]! + timesS[count - 1]!) / 2;
  const level = new Float64Array(count).fill(1 / Math.sqrt(count));
  const slope = timesS.map((time) => time - middleS);
  project(slope, level);
  const slopeSize = Math.sqrt(slope.reduce((sum, s) => sum + s * s, 0));
  const slopeUnit = slope.map((s) => (slopeSize > 1e-12 && count >= SLOPE_READINGS ? s / slopeSize : 0));
  const residuals = values.slice();
  const shape = timesS.map((time) => stepResponse(time - onsetS, lagS));
  for (const series of [residuals, shape]) {
    project(series, level);
    project(series, slopeUnit);
  }
  const size = shape.reduce((sum, s) => sum + s * s, 0);
  if (size < 1e-9 * count) return { height: 0, size: 0, residuals };
  const height = shape.reduce((sum, s, i) => sum + s * residuals[i]!, 0) / size;
  for (let i = 0; i < count; i += 1) residuals[i] = residuals[i]! - height * shape[i]!;
  return { height, size, residuals };
}

function project(series: Float64Array, direction: Float64Array): void {
  let share = 0;
  for (let i = 0; i < series.length; i += 1) share += series[i]! * direction[i]!;
  for (let i = 0; i < series.length; i += 1) series[i] = series[i]! - share * direction[i]!;
}
