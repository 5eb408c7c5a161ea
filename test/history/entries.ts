import type { RecordingEntry } from "../../src/history/index.js";

/** A recording of a battery; `number` makes it one of its own. */
export function entry(number: number, rest: Partial<RecordingEntry> = {}): RecordingEntry {
  const value = 0.01 + 1e-5 * number;
  return {
    hash: number.toString(16).padStart(64, "0"),
    battery: "B-0417",
    aircraft: "ICE-2",
    bus: "essential",
    atS: 1_770_000_000 + 86_400 * number,
    source: `flight-${number}.csv`,
    sampleCount: 450,
    durationS: 45,
    sampleRateHz: 10,
    sigmaV: 0.021,
    temperatureC: -12.5,
    stateOfCharge: 0.9,
    requiredEnduranceMin: 30,
    report: `flight-${number}/report.html`,
    software: "0.1.0",
    remark: null,
    dips: [{ onsetS: 10.25, releaseS: 15.5, depthV: 0.085, uV: 0.004, load: "probe-heat" }],
    estimates: [
      {
        quantity: "internal-resistance",
        load: null,
        afterS: 1,
        value,
        u: 5e-4,
        low: value - 1e-3,
        high: value + 1e-3,
        coverage: 0.95,
        route: "reference-load",
      },
      {
        quantity: "load-current",
        load: "probe-heat",
        afterS: null,
        value: 5.7,
        u: 0.2,
        low: null,
        high: null,
        coverage: null,
        route: null,
      },
    ],
    answers: [{ load: "probe-heat", name: "Heated probe", verdict: "responded", pValue: 1e-9, switchingCount: 4 }],
    notes: [{ kind: "warning", code: "gap", text: "The recording has a gap." }],
    ...rest,
  };
}
