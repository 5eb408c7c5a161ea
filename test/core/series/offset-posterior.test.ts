import { describe, expect, it } from "vitest";
import { OffsetPosterior, STRAY } from "../../../src/core/series/offset-posterior.js";

const COUNT = 101;
/** Logarithm of a normal likelihood about an index, without the floor for strays. */
const bell = (centre: number, sd: number, count = COUNT) =>
  Float64Array.from({ length: count }, (_, m) => -0.5 * ((m - centre) / sd) ** 2);
const lag = (lagS: number, weight = 1) => ({ lagS, weight });
const origin = (voltageLagS = 0, currentLagS = 0, weight = 1, phaseCount = 1) => ({
  voltageLag: lag(voltageLagS, weight),
  currentLag: lag(currentLagS),
  phaseCount,
});
const still = () => 0;

describe("OffsetPosterior", () => {
  it("multiplies what the steps tell: means by their precisions, deviation of the product", () => {
    const posterior = new OffsetPosterior(COUNT, 1);
    posterior.add([bell(50, 6), bell(53, 3)], null, still, origin());
    const found = posterior.summary(10, 0.1, [0]);
    // Weights 1/36 and 1/9: 52.4; precision 5/36.
    expect(found.offsetS).toBeCloseTo(10 + 5.24, 3);
    const sd = 0.1 * Math.sqrt(36 / 5);
    expect(found.uOffsetS).toBeCloseTo(Math.hypot(sd, 0.1 / Math.sqrt(12)), 3);
    // 95 % of a normal, and half a step of the grid on either side.
    expect(found.lowS).toBeCloseTo(found.offsetS - 1.96 * sd - 0.05, 1);
    expect(found.highS).toBeCloseTo(found.offsetS + 1.96 * sd + 0.05, 1);
    expect(found).toMatchObject({ rate: 0, uRate: 0, voltageLagS: 0, uVoltageLagS: 0, currentLagS: 0 });
  });

  it("tells by how much the steps disagree: chi-square of their offsets", () => {
    const posterior = new OffsetPosterior(COUNT, 1);
    posterior.add([bell(46, 4), bell(54, 4)], null, still, origin());
    // Each one standard deviation off the middle: 2.
    expect(posterior.summary(0, 1, [0]).discord).toBeCloseTo(2, 9);
  });

  it("tells how well each step by itself is known, the floor for strays taken off", () => {
    const posterior = new OffsetPosterior(COUNT, 1);
    const floored = bell(50, 5).map((log) => Math.log(Math.exp(log) + STRAY));
    posterior.add([floored, bell(50, 3)], null, still, origin());
    const { spreadsS } = posterior.summary(0, 0.2, [0]);
    expect(spreadsS[0]).toBeCloseTo(0.2 * Math.hypot(5, 1 / Math.sqrt(12)), 3);
    expect(spreadsS[1]).toBeCloseTo(0.2 * Math.hypot(3, 1 / Math.sqrt(12)), 2);
  });

  it("averages the lags by their likelihood and prior weight", () => {
    const posterior = new OffsetPosterior(COUNT, 1);
    posterior.add([bell(50, 4)], null, still, origin(0.2, 0.1, 1));
    posterior.add([bell(50, 4)], null, still, origin(0.6, 0.5, 3));
    const found = posterior.summary(0, 1, [0]);
    expect(found.voltageLagS).toBeCloseTo(0.5, 9);
    expect(found.currentLagS).toBeCloseTo(0.4, 9);
    // Two values, a quarter and three quarters: 0.4 sqrt(3/16).
    expect(found.uVoltageLagS).toBeCloseTo(0.4 * Math.sqrt(3 / 16), 9);
  });

  it("an unlikely layer counts for little, and its spreads and discord for nothing", () => {
    const posterior = new OffsetPosterior(COUNT, 1);
    posterior.add([bell(30, 2), bell(70, 2)], null, still, origin(0.9));
    posterior.add([bell(50, 4), bell(50, 4)], null, still, origin(0.1));
    const found = posterior.summary(0, 1, [0]);
    expect(found.voltageLagS).toBeCloseTo(0.1, 9);
    expect(found.offsetS).toBeCloseTo(50, 6);
    expect(found.discord).toBeCloseTo(0, 9);
    expect(Math.abs(found.spreadsS[0]! - 4)).toBeLessThan(0.1);
  });

  it("follows the rate: each step's shift moves its likelihood", () => {
    const posterior = new OffsetPosterior(COUNT, 3);
    // Steps at -10 and +10: seen at 45 and 55 they share one offset at the third rate.
    const shiftOf = (rate: number, step: number) => (rate - 1) * (step === 0 ? -5 : 5);
    posterior.add([bell(45, 1), bell(55, 1)], null, shiftOf, origin());
    const found = posterior.summary(0, 1, [-0.5, 0, 0.5]);
    expect(found.rate).toBeCloseTo(0.5, 6);
    expect(found.uRate).toBeLessThan(1e-3);
    expect(found.offsetS).toBeCloseTo(50, 6);
    expect(found.discord).toBeCloseTo(0, 6);
    // Two rates alike: their mean and half their distance.
    const two = new OffsetPosterior(COUNT, 2);
    two.add([bell(50, 3)], null, still, origin());
    expect(two.summary(0, 1, [0.1, 0.3])).toMatchObject({
      rate: expect.closeTo(0.2, 9),
      uRate: expect.closeTo(0.1, 9),
    });
    // At the end of the grid too.
    const atEnd = new OffsetPosterior(COUNT, 2);
    atEnd.add([bell(0, 3)], null, still, origin());
    expect(atEnd.summary(0, 1, [0.1, 0.3]).rate).toBeCloseTo(0.2, 9);
  });

  it("reads between the points of the grid, and holds the last value beyond its ends", () => {
    const posterior = new OffsetPosterior(5, 1);
    const line = Float64Array.of(0, -1, -2, -3, -4);
    posterior.add([line], null, () => 0.5, origin());
    // Logs -0.5, -1.5, -2.5, -3.5, -4: the mean of the grid by these weights.
    const weights = [-0.5, -1.5, -2.5, -3.5, -4].map(Math.exp);
    const mean = weights.reduce((sum, w, m) => sum + w * m, 0) / weights.reduce((a, b) => a + b, 0);
    expect(posterior.summary(0, 1, [0]).offsetS).toBeCloseTo(mean, 12);
    const below = new OffsetPosterior(5, 1);
    below.add([line], null, () => -2, origin());
    const held = [0, 0, 0, -1, -2].map(Math.exp);
    const heldMean = held.reduce((sum, w, m) => sum + w * m, 0) / held.reduce((a, b) => a + b, 0);
    expect(below.summary(0, 1, [0]).offsetS).toBeCloseTo(heldMean, 12);
  });

  it("weighs steps at phases of their own against one phase common to all", () => {
    // Ten phases: two steps of their own have 1/100 of the prior, a common phase has 1/10.
    const common = Float64Array.from({ length: COUNT }, (_, m) => 2 * Math.exp(bell(60, 2)[m]!));
    const posterior = new OffsetPosterior(COUNT, 1);
    posterior.add([bell(40, 2), bell(40, 2)], () => common, still, origin(0, 0, 1, 10));
    const own = Array.from(bell(40, 2), (log) => Math.exp(2 * log) / 100);
    const weights = own.map((w, m) => w + common[m]! / 10);
    const total = weights.reduce((a, b) => a + b, 0);
    const mean = weights.reduce((sum, w, m) => sum + w * m, 0) / total;
    expect(posterior.summary(0, 1, [0]).offsetS).toBeCloseTo(mean, 9);
  });

  it("ends of the interval by the sum of the weights", () => {
    const posterior = new OffsetPosterior(4, 1);
    posterior.add([Float64Array.of(0, 0, 0, 0)], null, still, origin());
    const { lowS, highS } = posterior.summary(10, 1, [0]);
    // Four equal cells from 9.5 to 13.5; 2.5 % of the sum from either end, and half a step for the grid.
    expect(lowS).toBeCloseTo(9.5 + 0.1 - 0.5, 9);
    expect(highS).toBeCloseTo(13.5 - 0.1 + 0.5, 9);
  });
});
