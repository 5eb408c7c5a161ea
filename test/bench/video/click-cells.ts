import { type ClickOutcome, clickFaults, clickTrial } from "./click-trial.js";
import { MARK_SETS, stillDials } from "./still-dial.js";

type Read = Extract<ClickOutcome, { kind: "read" }>;

/** Errors over their stated standard uncertainties, the larger of offset and gain. */
const overU = (read: Read) => Math.max(Math.abs(read.offsetV) / read.uOffsetV, Math.abs(read.gainError) / read.uGain);

const rms = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const largest = (values: readonly number[]) => Math.max(0, ...values.map(Math.abs));

/** Rows of what became of faulty clicks on every dial of one radius, every `every`-th fault: seeds 1000 dial + fault. */
export async function* faultyClicks(radiusPx: number, every: number): AsyncGenerator<[string, string]> {
  const outcomes = new Map<string, ClickOutcome[]>();
  let dialIndex = 0;
  for (const dial of stillDials(radiusPx)) {
    for (const [index, fault] of clickFaults().entries()) {
      if (fault.isOrdinary !== true && (index + dialIndex) % every !== 0) continue;
      const set = (index + dialIndex) % MARK_SETS.length;
      const outcome = await clickTrial(dial, set, fault, 1000 * dialIndex + index + 1);
      outcomes.set(fault.kind, [...(outcomes.get(fault.kind) ?? []), outcome]);
    }
    dialIndex++;
  }
  for (const [kind, all] of outcomes) {
    const read = all.filter((outcome) => outcome.kind === "read");
    const beyond = (limit: number) => read.filter((outcome) => overU(outcome) > limit).length;
    yield [
      kind,
      `${all.length}: ${all.length - read.length} refused, ${beyond(2)} beyond 2 u, ${beyond(4)} beyond 4 u, worst ${largest(read.map(({ offsetV }) => 1000 * offsetV)).toFixed(0)} mV`,
    ];
  }
}

/** Rows of offset and gain after ordinary clicks on every dial of one radius; seeds 1 to `draws` for each. */
export async function* ordinaryGain(radiusPx: number, draws: number): AsyncGenerator<[string, string]> {
  const read: Read[] = [];
  let refused = 0;
  for (const dial of stillDials(radiusPx)) {
    for (let seed = 1; seed <= draws; seed++) {
      const outcome = await clickTrial(dial, 0, clickFaults()[0]!, seed);
      if (outcome.kind === "read") read.push(outcome);
      else refused++;
    }
  }
  const gains = read.map(({ gainError }) => 100 * gainError);
  const offsets = read.map(({ offsetV }) => 1000 * offsetV);
  yield ["draws (refused)", `${read.length + refused} (${refused})`];
  yield ["gain, %: bias, RMS, largest", [mean(gains), rms(gains), largest(gains)].map((x) => x.toFixed(2)).join(", ")];
  yield [
    "offset, mV: bias, RMS, largest",
    [mean(offsets), rms(offsets), largest(offsets)].map((x) => x.toFixed(0)).join(", "),
  ];
  yield [
    "error over stated u, RMS: gain, offset",
    [rms(read.map((r) => r.gainError / r.uGain)), rms(read.map((r) => r.offsetV / r.uOffsetV))]
      .map((x) => x.toFixed(2))
      .join(", "),
  ];
}
