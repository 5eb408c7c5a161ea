import { benchMeter, busLogger, wornMeter } from "./simulator/ice-2.js";
import type { SamplePlan } from "./simulator/sample-recording.js";

/** The samples that are committed; seeds are the day of the invented flight, not chosen for the outcome. */
export const samplePlans: readonly SamplePlan[] = [
  {
    name: "ice-2-ramp",
    seed: 20260302,
    about: "the whole ramp check of the essential bus on battery alone, switchings marked",
    loads: ["landing-light", "probe-heat-a", "probe-heat-b", "stall-vane-heat", "survey-altimeter", "emergency-lights"],
    repeatCount: 3,
    meter: busLogger,
    withMarks: true,
    withCurrent: false,
  },
  {
    name: "ice-2-noisy",
    seed: 20260303,
    about: "landing light and probe A through a worn meter that jitters more than the dips are deep",
    loads: ["landing-light", "probe-heat-a"],
    repeatCount: 3,
    meter: wornMeter,
    withMarks: true,
    withCurrent: false,
  },
  {
    name: "ice-2-bench",
    seed: 20260304,
    about: "bench multimeter and clamp meter together, nobody noted the switchings",
    loads: ["landing-light", "probe-heat-a", "stall-vane-heat"],
    repeatCount: 3,
    meter: benchMeter,
    withMarks: false,
    withCurrent: true,
  },
  {
    name: "ice-2-unmarked",
    seed: 20260305,
    about: "probe A switched four times, nobody noted when, voltage only",
    loads: ["probe-heat-a"],
    repeatCount: 4,
    meter: busLogger,
    withMarks: false,
    withCurrent: false,
  },
];
