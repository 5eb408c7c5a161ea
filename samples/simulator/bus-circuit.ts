/** A battery behind its cable: a Thevenin source with one slow polarisation branch and a level that relaxes. */
export interface SimulatedBattery {
  /** Rested open-circuit voltage. */
  readonly openCircuitV: number;
  /** Voltage above the rested level at time zero, as a battery shows after charging; dies away exponentially. */
  readonly relaxationV: number;
  readonly relaxationTimeS: number;
  /** Internal resistance that answers at once. */
  readonly ohmicOhm: number;
  /** Internal resistance that comes in slowly (one resistor-capacitor branch). */
  readonly polarizationOhm: number;
  readonly polarizationTimeS: number;
  /** Cable, contactor and ground up to the sensing point. */
  readonly pathOhm: number;
}

/** How a load draws current from the bus voltage. */
export type LoadLaw =
  | { readonly law: "resistance"; readonly conductanceS: number }
  /** A heater draws `1 + coldExcess` times its settled current when cold. */
  | {
      readonly law: "heater";
      readonly conductanceS: number;
      readonly coldExcess: number;
      readonly warmingTimeS: number;
      readonly coolingTimeS: number;
    }
  | { readonly law: "power"; readonly powerW: number }
  | { readonly law: "current"; readonly currentA: number }
  /** Switched, but draws nothing: a burnt-out element or an open breaker. */
  | { readonly law: "dead" };

export interface SimulatedLoad {
  readonly id: string;
  readonly draw: LoadLaw;
}

/** One load switched on at `onS` and off at `offS`. */
export interface SimulatedSwitching {
  readonly load: string;
  readonly onS: number;
  readonly offS: number;
}

/** True voltage and battery current on a fine, regular time axis that begins at zero; discharge is positive. */
export interface TrueSignal {
  readonly stepS: number;
  readonly voltagesV: Float64Array;
  readonly currentsA: Float64Array;
  /** Current of each load, by id. */
  readonly loadCurrentsA: ReadonlyMap<string, Float64Array>;
}

/** The bus voltage and currents while loads are switched; `baseLoad` stays on throughout. */
export function simulateBus(options: {
  readonly battery: SimulatedBattery;
  readonly baseLoad: LoadLaw;
  readonly loads: readonly SimulatedLoad[];
  readonly switchings: readonly SimulatedSwitching[];
  readonly durationS: number;
  readonly stepS: number;
}): TrueSignal {
  const { battery, stepS } = options;
  const count = Math.round(options.durationS / stepS) + 1;
  const voltagesV = new Float64Array(count);
  const currentsA = new Float64Array(count);
  const loadCurrentsA = new Map(options.loads.map((load) => [load.id, new Float64Array(count)]));
  const warmth = new Map(options.loads.map((load) => [load.id, 0]));
  const seriesOhm = battery.ohmicOhm + battery.pathOhm;
  const polarizationDecay = Math.exp(-stepS / battery.polarizationTimeS);

  let busV = battery.openCircuitV;
  // The base load has been on for long before the recording begins.
  let polarizationV = battery.polarizationOhm * currentOf(options.baseLoad, busV, 1);

  for (let index = 0; index < count; index++) {
    const timeS = index * stepS;
    const on = new Set(options.switchings.filter((one) => timeS >= one.onS && timeS < one.offS).map((one) => one.load));
    const sourceV =
      battery.openCircuitV + battery.relaxationV * Math.exp(-timeS / battery.relaxationTimeS) - polarizationV;

    let currentA = 0;
    // Load currents depend on the bus voltage and the bus voltage on them; milliohms make this converge at once.
    for (let pass = 0; pass < 8; pass++) {
      currentA = currentOf(options.baseLoad, busV, 1);
      for (const load of options.loads) {
        const drawnA = on.has(load.id) ? currentOf(load.draw, busV, warmth.get(load.id)!) : 0;
        loadCurrentsA.get(load.id)![index] = drawnA;
        currentA += drawnA;
      }
      busV = sourceV - seriesOhm * currentA;
    }

    voltagesV[index] = busV;
    currentsA[index] = currentA;
    polarizationV = polarizationDecay * polarizationV + (1 - polarizationDecay) * battery.polarizationOhm * currentA;
    for (const load of options.loads) {
      warmth.set(load.id, nextWarmth(load.draw, warmth.get(load.id)!, on.has(load.id), stepS));
    }
  }
  return { stepS, voltagesV, currentsA, loadCurrentsA };
}

/** Current in amperes at a bus voltage; `warmth` runs from 0 (cold) to 1 (settled). */
export function currentOf(draw: LoadLaw, busV: number, warmth: number): number {
  switch (draw.law) {
    case "resistance":
      return draw.conductanceS * busV;
    case "heater":
      return draw.conductanceS * busV * (1 + draw.coldExcess * (1 - warmth));
    case "power":
      return draw.powerW / busV;
    case "current":
      return draw.currentA;
    case "dead":
      return 0;
  }
}

function nextWarmth(draw: LoadLaw, warmth: number, on: boolean, stepS: number): number {
  if (draw.law !== "heater") return warmth;
  const target = on ? 1 : 0;
  return target + (warmth - target) * Math.exp(-stepS / (on ? draw.warmingTimeS : draw.coolingTimeS));
}
