import type { Assumption, Caution, Warning } from "./notes.js";
import type { Quantity } from "./quantity/quantity.js";

export type Verdict = "responded" | "no response" | "undecided";

/** Everything that one recording tells; what `analyze` returns. Units stand in the names. */
export interface Analysis {
  readonly recording: RecordingSummary;
  readonly noise: NoiseSummary;
  readonly detection: DetectionSummary;
  readonly dips: readonly Dip[];
  readonly loads: readonly LoadAnswer[];
  readonly battery: BatteryAnswer;
  readonly budgets: readonly UncertaintyBudget[];
  readonly curves: AnalysisCurves;
  readonly assumptions: readonly Assumption[];
  readonly cautions: readonly Caution[];
  readonly warnings: readonly Warning[];
}

export interface RecordingSummary {
  readonly sampleCount: number;
  readonly durationS: number;
  /** Median sampling rate; null for fewer than two readings. */
  readonly sampleRateHz: number;
  readonly gaps: readonly { readonly startS: number; readonly endS: number }[];
  readonly lowestV: number;
  readonly highestV: number;
}

export interface NoiseSummary {
  /** Standard deviation of one reading about the slow drift, all noise parts together. */
  readonly sigmaV: number;
  /** Lag-one autocorrelation of the noise at the working interval. */
  readonly ar1: number;
  /** Display step; null when the readings show none. */
  readonly quantumV: number | null;
  readonly whiteV: number;
  readonly colouredV: number;
  readonly colouredTimeS: number;
  /** Random walk of the level, volts per square root of a second. */
  readonly walkVPerSqrtS: number;
}

/** Where the switching times came from. */
export type DetectionMode = "marked" | "current" | "searched";

/** The switchings that the limits of a search are told of: of a stated rhythm, else ordinary ones; without a cold start. */
export interface LimitsOf {
  readonly switchingCount: number;
  readonly onS: number;
  readonly offS: number;
}

export interface DetectionSummary {
  readonly mode: DetectionMode;
  /** Per recording, shared over the loads (Holm). */
  readonly falseAlarmRate: number;
  readonly power: number;
  /** Of the least visible load; null where the recording cannot show a switching at all. */
  readonly criticalDepthV: number | null;
  readonly minimumDetectableDepthV: number | null;
  /** The switchings that these limits are told of where their times were searched for; null where they were known. */
  readonly limitsOf: LimitsOf | null;
}

/** One temporary fall of the voltage. Terms: IEC 61000-4-30. */
export interface Dip {
  readonly onsetS: number;
  readonly releaseS: number;
  readonly durationS: number;
  readonly depth: Quantity<"V">;
  /** Lowest level during the dip: reference voltage less depth. */
  readonly residualV: number;
  readonly load: string | null;
  readonly current: Quantity<"A"> | null;
  /** Source resistance from this dip at the earliest stated time after the step. */
  readonly resistance: ResistanceAt | null;
  /** The same at each stated time after the step that the sampling supports. */
  readonly resistances: readonly ResistanceAt[];
}

/** Source resistance `R_dc(t)`, `atS` seconds after the step; only values at equal times compare. */
export interface ResistanceAt {
  readonly atS: number;
  readonly resistance: Quantity<"Ohm">;
}

export type VerdictReason =
  | "above-critical"
  | "excludes-acceptable"
  | "too-noisy"
  | "no-expected-depth"
  | "between"
  | "wrong-direction"
  | "dips-disagree"
  /** The voltage came back, or stayed down, against the marks: for good, or in half of the switchings. */
  | "not-as-marked"
  /** All its dips lie further from its marks than was told of these. */
  | "marks-off"
  | "dips-beside-marks"
  /** The few dips that were searched for may be levels that shifted, once each. */
  | "one-step"
  /** The level may have wandered at the dips that were searched for, more than elsewhere. */
  | "maybe-wander"
  /** Dips that no mark names are smaller or larger than the load's acceptable current makes them. */
  | "dips-unfit"
  /** The voltage dips in the rhythm of the load where nobody switched it. */
  | "rhythm-goes-on"
  | "source-regulated"
  /** No load dips and the level stands still: nothing shows that the battery alone feeds the bus. */
  | "source-not-shown"
  | "never-switched"
  /** It is seen or heard, and nobody switched it in the recording. */
  | "shows-itself"
  | "load-not-told"
  | "display-too-coarse"
  /** The meter stood at an end of its range, where it can show no dip in full. */
  | "meter-at-end"
  /** A needle was read, and nobody said how far its friction holds it back. */
  | "friction-untold"
  /** A doubt that readings share is as large as the dip, or would hide it. */
  | "movement-doubtful";

export interface LoadAnswer {
  readonly id: string;
  readonly name: string;
  readonly verdict: Verdict;
  readonly because: VerdictReason;
  /**
   * Probability of at least this much response from noise alone, and from the doubt that readings share, for this load;
   * Holm-adjusted over the loads.
   */
  readonly pValue: number;
  readonly switchingCount: number;
  /** Mean over the switchings; null where no switching was seen. */
  readonly depth: Quantity<"V"> | null;
  /** Depth right after switching on, where the load is seen to settle (cold heater, lamp inrush). */
  readonly coldDepth: Quantity<"V"> | null;
  /** The dip that the lowest acceptable current would make with the source resistance at its low end. */
  readonly expectedDepthV: number | null;
  readonly criticalDepthV: number | null;
  readonly minimumDetectableDepthV: number | null;
  /** Switchings more that would settle an `undecided`; null where more of them would not. */
  readonly moreSwitchings: number | null;
  readonly current: Quantity<"A"> | null;
  readonly coldCurrent: Quantity<"A"> | null;
  readonly reference: boolean;
}

export interface BatteryAnswer {
  readonly openCircuit: Quantity<"V"> | null;
  /** Source resistance seen at the meter. */
  readonly source: ResistanceAt | null;
  /** Source resistance less the path resistance of the profile; null when the path is not known. */
  readonly internal: ResistanceAt | null;
  /** Internal resistance brought to 20 C and full charge; null where the temperature or the chemistry is not known. */
  readonly normalized: ResistanceAt | null;
  /** Ohmic part and polarisation of the source; null where they cannot be told apart. */
  readonly model: SourceModel | null;
  /** Figures by the two-current rules of the standards; empty or absent where the recording holds no such pair of levels. */
  readonly twoCurrent?: readonly TwoCurrentFigure[];
  readonly endurance: Quantity<"min"> | null;
  readonly requiredEnduranceMin: number | null;
}

/** Resistor in series with one or two resistor-capacitor pairs, the faster first. */
export interface SourceModel {
  readonly ohmic: Quantity<"Ohm">;
  readonly pairs: readonly { readonly resistance: Quantity<"Ohm">; readonly timeConstant: Quantity<"s"> }[];
}

/** Resistance, and with IEC 60896-21 the short-circuit current, from two discharge currents held one after the other. */
export interface TwoCurrentFigure {
  readonly standard: "IEC 60896-21" | "IEC 61960-3";
  readonly firstA: Quantity<"A">;
  readonly secondA: Quantity<"A">;
  /** Whether both currents are those that the standard asks for; null where the capacity is not known. */
  readonly levelsAsStandard: boolean | null;
  readonly resistance: Quantity<"Ohm">;
  readonly shortCircuit: Quantity<"A"> | null;
}

/** GUM budget of one number. Source: JCGM 100:2008, 5.1 and table H.1 (layout). */
export interface UncertaintyBudget {
  /** What the number is: a key such as `current` and the load or null for the battery. */
  readonly quantity:
    | "depth"
    | "current"
    | "source-resistance"
    | "internal-resistance"
    | "normalized-resistance"
    | "open-circuit"
    | "endurance";
  readonly load: string | null;
  readonly unit: "V" | "A" | "Ohm" | "min";
  readonly value: number;
  readonly u: number;
  readonly rows: readonly BudgetRow[];
  /** Which interval the result carries. */
  readonly method: "first-order" | "monte-carlo" | "fieller" | "likelihood";
}

export interface BudgetRow {
  readonly source: BudgetSource;
  readonly value: number;
  readonly unit: "V" | "A" | "Ohm" | "W" | "Ah" | "1" | "s" | "K";
  /** Standard uncertainty of the input, in its own unit. */
  readonly u: number;
  /** Partial derivative of the number by the input. */
  readonly sensitivity: number;
  /** Share of the variance, 0 to 1. */
  readonly share: number;
}

export type BudgetSource =
  | "reading-noise"
  | "noise-model"
  | "switching-time-and-shape"
  | "display-step"
  | "voltage-gain"
  | "common-doubt"
  | "depth"
  | "measured-current"
  | "reference-rating"
  | "reference-depth"
  | "known-resistance"
  | "path-resistance"
  | "bus-voltage"
  | "capacity"
  | "bus-current"
  | "derate"
  | "resistance"
  | "temperature"
  | "temperature-coefficient"
  | "state-of-charge"
  | "charge-coefficient";

/** Curves for figures, at the working rate. */
export interface AnalysisCurves {
  readonly timesS: Float64Array;
  readonly readingsV: Float64Array;
  /** Fitted level with the dips. */
  readonly modelV: Float64Array;
  /** Fitted level without the dips. */
  readonly driftV: Float64Array;
  readonly coherent: readonly CoherentAverage[];
}

/** Mean of one load's repeated dips, aligned at the onset, drift taken out. */
export interface CoherentAverage {
  readonly load: string;
  readonly dipCount: number;
  /** When the load was on, whether or not a dip was found there. */
  readonly onTimes: readonly { readonly onsetS: number; readonly releaseS: number }[];
  /** Seconds from the onset. */
  readonly timesS: Float64Array;
  readonly meanV: Float64Array;
  /** Standard uncertainty of the mean. */
  readonly uMeanV: Float64Array;
  readonly modelV: Float64Array;
}
