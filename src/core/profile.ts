import type { Uncertain } from "./quantity/quantity.js";

/** Kinds of batteries whose behaviour busdip knows something about. */
export const CHEMISTRIES = ["lead-acid", "ni-cd", "li-ion"] as const;
export type Chemistry = (typeof CHEMISTRIES)[number];
export type LoadKind = "heater" | "resistive" | "constant-power" | "constant-current";
/** How a load shows that it has power: by the voltmeter's needle alone, or by itself. */
export type ShownBy = "needle" | "seen" | "heard";

/** What is known about the aircraft's bus before any reading is taken. All SI units. */
export interface BusProfile {
  readonly aircraft?: string;
  readonly bus?: string;
  readonly battery?: BatteryProfile;
  /** Cable, contactor and ground from the battery terminals to the sensing point. */
  readonly pathResistanceOhm?: Uncertain;
  readonly meter?: MeterProfile;
  readonly requiredEnduranceMin?: number;
  /** Current of the whole bus with the loads of the profile off, amperes. */
  readonly busCurrentA?: Uncertain;
  readonly loads: readonly LoadProfile[];
}

export interface BatteryProfile {
  readonly id?: string;
  readonly chemistry?: Chemistry;
  readonly cells?: number;
  readonly capacityAh?: number;
  /** ISO 8601 calendar date. */
  readonly installed?: string;
  readonly resistanceOhm?: Uncertain;
}

export interface MeterProfile {
  readonly fullScaleV?: number;
  readonly smallestDivisionV?: number;
  readonly zeroV?: number;
  /** Which way round the dial the volts rise, seen from the front. */
  readonly scaleRises?: "clockwise" | "anticlockwise";
  /** First-order time constant of the meter. */
  readonly lagS?: number;
  /** How far friction can hold the needle off the true voltage, on either side. */
  readonly frictionV?: number;
}

export interface LoadProfile {
  readonly id: string;
  readonly name?: string;
  readonly kind: LoadKind;
  readonly rated?: RatedLoad;
  /** Lowest and highest current that is acceptable in service. */
  readonly acceptA?: readonly [number, number];
  /** Whether this load's rated current may serve to find the source resistance. */
  readonly reference: boolean;
  /** `needle` when left out. */
  readonly shows?: ShownBy;
  /** What to look or listen for. */
  readonly lookFor?: string;
  /** Place in the check, lowest first; loads without one follow in the order of the file. */
  readonly order?: number;
  /** Longest time that it may be on in one series, all on-times of the series added up. */
  readonly timeLimitS?: number;
  readonly caution?: string;
  /** Ids of the loads that must be checked before this one. */
  readonly after?: readonly string[];
  /** The bus that feeds it, where it is not the profile's own. */
  readonly bus?: string;
  /** Label of its switch; loads with the same one are switched together. */
  readonly switch?: string;
}

/** A rating: power at a voltage, or current. `toleranceFraction` is the half-width of a rectangular distribution. */
export type RatedLoad = { readonly toleranceFraction?: number } & (
  | { readonly powerW: number; readonly atV: number }
  | { readonly currentA: number }
);
