import type { Uncertain } from "./quantity/quantity.js";

export type Chemistry = "lead-acid" | "ni-cd" | "li-ion";
export type LoadKind = "heater" | "resistive" | "constant-power" | "constant-current";

/** What is known about the aircraft's bus before any reading is taken. All SI units. */
export interface BusProfile {
  readonly aircraft?: string;
  readonly bus?: string;
  readonly battery?: BatteryProfile;
  /** Cable, contactor and ground from the battery terminals to the sensing point. */
  readonly pathResistanceOhm?: Uncertain;
  readonly meter?: MeterProfile;
  readonly requiredEnduranceMin?: number;
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
  /** First-order time constant of the meter. */
  readonly lagS?: number;
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
}

/** A rating: power at a voltage, or current. `toleranceFraction` is the half-width of a rectangular distribution. */
export type RatedLoad = { readonly toleranceFraction?: number } & (
  | { readonly powerW: number; readonly atV: number }
  | { readonly currentA: number }
);
