import type { LoadLaw, SimulatedBattery, SimulatedLoad } from "./bus-circuit.js";
import type { SimulatedMeter } from "./panel-meter.js";

/** Conductance of a load that is rated with a power at a voltage and obeys Ohm's law. */
function ratedConductanceS(powerW: number, atV: number): number {
  return powerW / (atV * atV);
}

function heater(powerW: number): LoadLaw {
  return {
    law: "heater",
    conductanceS: ratedConductanceS(powerW, 28),
    coldExcess: 0.6,
    warmingTimeS: 3,
    coolingTimeS: 20,
  };
}

/** Battery B-0417: lead-acid, 12 cells, in its ageing year, an hour after charging. */
export const agingBattery: SimulatedBattery = {
  openCircuitV: 24.4,
  relaxationV: 0.4,
  relaxationTimeS: 240,
  ohmicOhm: 0.0092,
  polarizationOhm: 0.002,
  polarizationTimeS: 8,
  pathOhm: 0.003,
};

/** Radios and instruments that stay on throughout. */
export const baseLoad: LoadLaw = { law: "power", powerW: 240 };

/** The essential bus of ICE-2; probe B's element is burnt out. */
export const essentialBus: readonly SimulatedLoad[] = [
  { id: "landing-light", draw: { law: "resistance", conductanceS: ratedConductanceS(250, 28) } },
  { id: "probe-heat-a", draw: heater(160) },
  { id: "probe-heat-b", draw: { law: "dead" } },
  { id: "stall-vane-heat", draw: heater(90) },
  { id: "survey-altimeter", draw: { law: "power", powerW: 12 } },
  { id: "emergency-lights", draw: { law: "current", currentA: 2.6 } },
];

/** A logger at the essential bus, 10 readings a second to the hundredth of a volt, jittering as such meters do. */
export const busLogger: SimulatedMeter = {
  rateHz: 10,
  lagS: 0.25,
  whiteV: 0.015,
  lingeringV: 0.012,
  lingeringTimeS: 0.4,
  wanderVPerSqrtS: 0.0005,
  displayStepV: 0.01,
  wildShare: 0.002,
  wildV: 0.3,
  gaps: [],
};

/** The same place read through a worn instrument beside a running inverter. */
export const wornMeter: SimulatedMeter = {
  ...busLogger,
  whiteV: 0.12,
  lingeringV: 0.12,
  lingeringTimeS: 0.6,
  wanderVPerSqrtS: 0.005,
  displayStepV: 0.1,
};

/** A bench multimeter at the battery bus, 20 readings a second. */
export const benchMeter: SimulatedMeter = {
  ...busLogger,
  rateHz: 20,
  lagS: 0.05,
  whiteV: 0.004,
  lingeringV: 0.003,
  wildShare: 0,
  displayStepV: 0.001,
};

/** A clamp meter whose zero was not set: it reads 0.4 A too much. */
export const clampMeter: SimulatedMeter & { readonly offsetA: number } = {
  rateHz: 20,
  lagS: 0.05,
  whiteV: 0.03,
  lingeringV: 0.02,
  lingeringTimeS: 1,
  wanderVPerSqrtS: 0.001,
  displayStepV: 0.01,
  wildShare: 0,
  wildV: 0,
  gaps: [],
  offsetA: 0.4,
};
