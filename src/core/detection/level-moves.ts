import { rootSumSquares } from "../statistics/portable-power.js";
import type { MarkedDetection } from "./marked-detection.js";
import { matchedScores } from "./matched-scores.js";

/** Standard uncertainties from which on the level surely moves. */
const SURE = 4;

/**
 * Whether the level moves at all over a judged stretch in which no load made a dip: falls, recovers, or bends.
 *
 * A battery that feeds a bus alone discharges, and recovers from what it fed before; a ground supply or charger holds its
 * level. The noise is taken without its wander here, so that anything slow counts as moving. Common practice, no source.
 */
export function levelMoves({ design, fit, responses }: MarkedDetection): boolean {
  const { series } = design;
  const { timesS, valuesV } = series;
  const dips = responses.map(({ template }) => template);
  const n = timesS.length;
  const middleS = (timesS[0] + timesS[n - 1]) / 2;
  const halfS = (timesS[n - 1] - timesS[0]) / 2;
  const width = dips.length + 4;
  const columns = new Float64Array(n * width);
  for (let i = 0; i < n; i++) {
    const x = (timesS[i] - middleS) / halfS;
    const row = i * width;
    columns[row] = 1;
    for (let k = 0; k < dips.length; k++) columns[row + 1 + k] = dips[k][i];
    columns[row + dips.length + 1] = valuesV[i] - valuesV[0];
    // A straight course and a bent one; the constant takes the level of either off.
    columns[row + dips.length + 2] = x;
    columns[row + dips.length + 3] = x * x;
  }
  const still = { ...fit.noise, walkVPerSqrtS: STILL * design.scatterV, bendVPerS15: STILL * design.scatterV };
  const { scores } = matchedScores(series, columns, { common: 1 + dips.length, templates: 2 }, still, false);
  return rootSumSquares(scores[0], scores[1]) > SURE;
}

/** Wander that is as good as none, per scatter of the readings. */
const STILL = 1e-5;
