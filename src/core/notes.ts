/** What was assumed on the way to the result. Every sentence for people stands in `report/messages.ts`. */
export type Assumption =
  | { readonly code: "lag-from-profile"; readonly lagS: number }
  | { readonly code: "lag-searched"; readonly lagS: number }
  | { readonly code: "needle-swings"; readonly frequencyHz: number; readonly dampingRatio: number }
  | { readonly code: "switching-from-marks"; readonly markCount: number; readonly jitterS: number }
  | { readonly code: "switching-from-current"; readonly stepCount: number }
  | { readonly code: "switching-searched" }
  | { readonly code: "load-by-elimination"; readonly load: string }
  | { readonly code: "load-by-current"; readonly load: string; readonly currentA: number }
  | { readonly code: "load-not-told"; readonly dipCount: number }
  | { readonly code: "load-ranked"; readonly load: string; readonly ranked: readonly RankedLoad[] }
  | { readonly code: "sharers-ranked"; readonly load: string; readonly ranked: readonly RankedLoads[] }
  | { readonly code: "mark-ignored"; readonly timeS: number; readonly load: string | null; readonly why: MarkFault }
  | { readonly code: "block-means"; readonly blockS: number; readonly readingCount: number }
  | { readonly code: "copies-left-out"; readonly copies: number; readonly readingCount: number }
  | { readonly code: "outliers-left-out"; readonly outlierCount: number }
  /** The readings are a needle's, and how far its friction holds it back is not known: depths are taken as shown. */
  | { readonly code: "friction-untold" }
  | { readonly code: "display-step"; readonly quantumV: number }
  | { readonly code: "interval-likelihood"; readonly quantumV: number; readonly sigmaV: number }
  | { readonly code: "settling-seen"; readonly load: string; readonly timeConstantS: number }
  | { readonly code: "reference-tolerance"; readonly load: string; readonly fraction: number }
  | { readonly code: "current-uncertainty"; readonly uA: number }
  | { readonly code: "discharge-sign"; readonly sign: 1 | -1 }
  | { readonly code: "charge-steps-left-out"; readonly stepCount: number }
  | { readonly code: "path-resistance-unknown" }
  | { readonly code: "path-resistance-from-profile"; readonly valueOhm: number; readonly uOhm: number }
  | { readonly code: "resistance-at"; readonly atS: number }
  | { readonly code: "settled-after-lag"; readonly atS: number }
  | {
      readonly code: "not-identifiable";
      readonly what: Unknown;
      readonly load: string | null;
      readonly why: UnknownReason;
    }
  | { readonly code: "meter-follows-at-once" }
  | {
      readonly code: "normalized-to";
      readonly temperatureC: number;
      readonly uTemperatureC: number;
      readonly referenceC: number;
      readonly stateOfCharge: number;
      readonly fittedCoefficients: boolean;
    }
  | {
      readonly code: "bus-current";
      readonly currentA: number;
      readonly uA: number;
      readonly baseMeasured: boolean;
      readonly loadCount: number;
    }
  | { readonly code: "endurance-model"; readonly derateLow: number; readonly derateHigh: number };

/** A load of the profile with the probability that it made some dips; what the profile does not name has the rest. */
export interface RankedLoad {
  readonly load: string;
  readonly probability: number;
}

/** Loads on one switch with the probability that just these of them drew current. */
export interface RankedLoads {
  readonly loads: readonly string[];
  readonly probability: number;
}

export type MarkFault = "outside-recording" | "off-without-on" | "on-without-off" | "no-readings-near";

/** The quantities that may be missing from a result. */
export type Unknown =
  | "current"
  | "resistance"
  | "internal-resistance"
  | "open-circuit"
  | "depth"
  | "endurance"
  | "polarization"
  | "normalized";

/** Why a quantity is not identifiable; the message says what would make it so. */
export type UnknownReason =
  | "no-current-reference"
  | "reference-did-not-respond"
  | "load-did-not-respond"
  | "reference-too-weak"
  | "no-current-step"
  | "not-sampled-together"
  | "sampled-too-slowly"
  | "source-is-regulated"
  | "no-battery-data"
  | "no-capacity"
  | "no-chemistry"
  | "no-bus-current"
  | "no-temperature"
  | "no-switching"
  | "below-one-digit"
  | "meter-at-end"
  | "marks-off"
  | "path-unknown"
  | "below-path"
  | "polarization-too-fast"
  | "polarization-too-slow"
  | "polarization-too-faint"
  | "resistance-unknown";

/** Doubts that the person should act on. */
export type Warning =
  | { readonly code: "gap"; readonly startS: number; readonly endS: number }
  /** Many readings stand at one extreme: the meter could not show what lay beyond. */
  | { readonly code: "meter-at-end"; readonly atV: number }
  /** Stretches in which the bus showed less than half of its usual voltage, left out with what lies about them. */
  | {
      readonly code: "bus-unpowered";
      readonly stretchCount: number;
      readonly totalS: number;
      readonly endS: number;
    }
  /** Stretches in which the readings repeat one exactly while those beside them scatter; left out but for that one. */
  | {
      readonly code: "readings-held";
      readonly stretchCount: number;
      readonly longestS: number;
      readonly totalS: number;
    }
  | { readonly code: "gaps"; readonly gapCount: number; readonly totalS: number }
  | { readonly code: "noise-not-stationary"; readonly ratio: number }
  | { readonly code: "source-regulated"; readonly meanV: number; readonly limitV: number }
  | { readonly code: "quantized-below-digit"; readonly quantumV: number }
  | { readonly code: "few-readings"; readonly readingCount: number }
  | { readonly code: "dips-disagree"; readonly load: string; readonly ratio: number }
  | { readonly code: "dip-without-mark"; readonly onsetS: number }
  /** All dips of a load lie further from its marks than was told of these: so many seconds after them. */
  | { readonly code: "marks-off"; readonly load: string; readonly laterS: number }
  | {
      readonly code: "stray-release";
      readonly load: string;
      readonly onsetS: number;
      /** When it was marked off; null where no mark says so. */
      readonly markedS: number | null;
      /** When the voltage came back; null where it stayed down to the end of the readings. */
      readonly seenS: number | null;
      /** Whether the switchings marked after it show nothing of their own. */
      readonly lasting: boolean;
    }
  | {
      readonly code: "current-outside-acceptable";
      readonly load: string;
      readonly currentA: number;
      readonly uA: number;
      /** The limit of acceptable current that it lies beyond. */
      readonly limitA: number;
    }
  /** The resistance that the recording gives cannot be that of the profile's battery and path. */
  | {
      readonly code: "resistance-contradicted";
      readonly foundOhm: number;
      readonly uFoundOhm: number;
      readonly knownOhm: number;
      readonly uKnownOhm: number;
    }
  | { readonly code: "voltage-near-limit"; readonly lowestV: number }
  | { readonly code: "polarization-in-depth"; readonly load: string }
  | { readonly code: "overlapping-loads"; readonly loads: readonly string[] }
  /** The profile says something of a load's kind or of the meter's lag that its dips clearly contradict. */
  | { readonly code: "profile-contradicted"; readonly load: string; readonly what: "kind" | "lag" | "kind-and-lag" }
  /** A load gave no response, and no other one shows that the bus dips at all. */
  | { readonly code: "nothing-dips" }
  /** Loads that one switch turns on together. */
  | { readonly code: "shared-switch"; readonly loads: readonly string[] };

/** Cautions that go with every verdict; DESIGN: advisory only, burns, minimum voltage, response is not heat, Ni-Cd limits. */
export type Caution = "advisory" | "hot-probe" | "battery-falls" | "current-not-heat" | "ni-cd-temperature";
