import type { EdgeField } from "../../../src/core/detection/edge-field.js";
import type { Rhythm, TrainBank } from "../../../src/core/detection/train-bank.js";
import { visitFamilies } from "../../../src/core/detection/train-scan.js";

/** Visits every train of the bank with its score; `scores` are those of all first onsets, valid for `count` of them. */
export function visitTrains(
  field: EdgeField,
  bank: TrainBank,
  visit: (rhythm: Rhythm, switchingCount: number, scores: Float64Array, energies: Float64Array, count: number) => void,
): void {
  visitFamilies(field, bank, ({ rhythm, switchingCount, count, sums, energies }) => {
    const scores = sums.map((sum, k) => (energies[k]! > 0 ? sum / Math.sqrt(energies[k]!) : 0));
    visit(rhythm, switchingCount, scores, energies, count);
  });
}
