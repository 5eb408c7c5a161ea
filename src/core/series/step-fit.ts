import { squared } from "../statistics/portable-power.js";
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
  const current = steps.map((step) => ({
    window: step.current,
    fromS: step.currentS - hiddenS,
    toS: step.currentS + hiddenS,
  }));
  const voltage = steps.map((step) => ({
    window: step.voltage,
    fromS: step.currentS + offsetS - halfWidthS - hiddenS,
    toS: step.currentS + offsetS + halfWidthS + hiddenS,
  }));
  const white = { correlation: 0, intervalS: intervals.voltageIntervalS };
  const plain = pooledFit(voltage, white);
  const correlationV = plain.clean ? 0 : plain.correlation;
  return {
    sigmaV: correlationV === 0 ? plain.sigma : pooledFit(voltage, { ...white, correlation: correlationV }).sigma,
    sigmaA: pooledFit(current, { correlation: 0, intervalS: intervals.currentIntervalS }).sigma,
    correlationV,
    voltageIntervalS: intervals.voltageIntervalS,
    currentIntervalS: intervals.currentIntervalS,
  };
}

interface Search {
  readonly window: StepWindow;
  readonly fromS: number;
  readonly toS: number;
}

/** How readings are whitened before a step is fitted. */
interface Whitening {
  readonly correlation: number;
  readonly intervalS: number;
}

interface PooledFit {
  /** Standard deviation of what is left over, after whitening. */
  readonly sigma: number;
  /** Correlation of neighbours in what is left over, before whitening. */
  readonly correlation: number;
  /** Less is left over than any instrument leaves. */
  readonly clean: boolean;
}

/** Fits a step to each window, at the lag that fits them best together. */
function pooledFit(searches: readonly Search[], whitening: Whitening): PooledFit {
  const fits = searches.map((search) => LAGS_S.map((lagS) => bestOnset(search, lagS, whitening)));
  const totals = LAGS_S.map((_, l) => fits.reduce((sum, fit) => sum + fit[l]!.rss, 0));
  const lag = totals.indexOf(Math.min(...totals));
  const heights: number[] = [];
  let [products, squares, count] = [0, 0, 0];
  searches.forEach(({ window }, k) => {
    const { height, residuals } = fitStep(window, fits[k]![lag]!.onsetS, LAGS_S[lag]!);
    heights.push(Math.abs(height));
    for (let i = 0; i < residuals.length; i += 1) {
      squares += squared(residuals[i]!);
      if (i > 0) products += residuals[i]! * residuals[i - 1]!;
    }
    count += window.values.length;
  });
  heights.sort((a, b) => a - b);
  // Level, slope, height and onset are taken from each window.
  const scatter = Math.sqrt(totals[lag]! / Math.max(1, count - 4 * searches.length));
  const least = Math.max(LEAST_SHARE * (heights[heights.length >> 1] ?? 0), 1e-12);
  // Four numbers fitted to a window of n readings lower the correlation r of its residuals by about (4 + 6 r) / n.
  const loss = searches.length / Math.max(1, count);
  const raw = squares === 0 ? 0 : (products / squares + 4 * loss) / Math.max(0.2, 1 - 6 * loss);
  return {
    sigma: Math.max(scatter, least),
    correlation: raw < LEAST_CORRELATION ? 0 : Math.min(0.95, raw),
    clean: scatter < least,
  };
}

/** The onset that leaves the least, found on a coarse and then on a fine grid. */
function bestOnset(
  { window, fromS, toS }: Search,
  lagS: number,
  whitening: Whitening,
): { readonly rss: number; readonly onsetS: number } {
  const among = (firstS: number, stepS: number, count: number): { rss: number; onsetS: number } => {
    const table = stepResiduals(window, { firstS, stepS, count, lagsS: [lagS], ...whitening })[0]!;
    const least = table.indexOf(table.reduce((a, b) => Math.min(a, b)));
    return { rss: table[least]!, onsetS: firstS + least * stepS };
  };
  const stepS = (toS - fromS) / 40;
  const coarse = among(fromS, stepS, 41);
  return among(coarse.onsetS - stepS, stepS / 8, 17);
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
  const sigma = (sigmaV / Math.sqrt(1 - squared(correlationV))) * Math.sqrt((1 + correlationV) / (1 - correlationV));
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
