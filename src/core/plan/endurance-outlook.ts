import { type BusCurrent, busCurrent } from "../battery/bus-current.js";
import { CAPACITY_MODEL, type Endurance, endurance } from "../battery/endurance.js";
import type { Answer } from "../estimation/answer.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import { COVERAGE } from "../quantity/interval.js";
import type { Uncertain } from "../quantity/quantity.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { power, rootSumSquares } from "../statistics/portable-power.js";
import { randomGenerator } from "../statistics/random.js";
import { nominalCurrent, restedBusV } from "./expected-dip.js";

/** How long the battery carries the bus with everything on, and what each load costs. */
export interface EnduranceOutlook {
  readonly busV: Uncertain;
  /** Null where some load has no rating, or nothing tells a current. */
  readonly current: BusCurrent | null;
  /** Loads without a rating: with them the whole current is not known. */
  readonly unrated: readonly LoadProfile[];
  readonly all: Answer<Endurance>;
  readonly requiredMin: number | null;
  /** Each load alone switched off, the one that buys most first; empty where nothing can be reckoned. */
  readonly sheds: readonly Shed[];
  readonly temperatureC: Uncertain | null;
}

export interface Shed {
  readonly load: LoadProfile;
  readonly currentA: Uncertain;
  /** Minutes of the bus without it; null where it is all that draws. */
  readonly minutes: number | null;
  /** Minutes more than with everything on, with the standard uncertainty. */
  readonly gain: Uncertain | null;
}

/** The outlook; the profile's own base current counts on top of the loads. */
export function enduranceOutlook(
  profile: BusProfile,
  options: { readonly temperatureC?: Uncertain } = {},
): EnduranceOutlook {
  const busV = restedBusV(profile);
  const base = profile.busCurrentA ?? null;
  const current = busCurrent(profile, base, busV);
  const all = minutesOf(profile, current, options.temperatureC);
  return {
    busV,
    current,
    unrated: profile.loads.filter(({ rated }) => rated === undefined),
    all,
    requiredMin: profile.requiredEnduranceMin ?? null,
    sheds: all.known && current !== null ? shedsOf(profile, busV, current, all) : [],
    temperatureC: options.temperatureC ?? null,
  };
}

/** Peukert's law with one load less; capacity and derate are common, so that only what differs counts. */
function shedsOf(profile: BusProfile, busV: Uncertain, current: BusCurrent, all: Endurance): Shed[] {
  const { peukert } = CAPACITY_MODEL[profile.battery!.chemistry!];
  return profile.loads
    .map((load): Shed => {
      const currentA = nominalCurrent(load, 0, busV)!;
      const leftA = current.value - currentA.value;
      if (!(leftA > 0.02 * current.value)) return { load, currentA, minutes: null, gain: null };
      const ratio = current.value / leftA;
      const minutes = all.minutes * power(ratio, peukert.value);
      const value = minutes - all.minutes;
      const u = rootSumSquares(
        value * (all.uMin / all.minutes),
        minutes * logarithm(ratio) * peukert.u,
        (peukert.value * minutes * currentA.u) / leftA,
      );
      return { load, currentA, minutes, gain: { value, u } };
    })
    .sort((a, b) => (b.gain?.value ?? Number.POSITIVE_INFINITY) - (a.gain?.value ?? Number.POSITIVE_INFINITY));
}

function minutesOf(
  profile: BusProfile,
  drawnA: Uncertain | null,
  temperatureC: Uncertain | undefined,
): Answer<Endurance> {
  const { capacityAh, chemistry } = profile.battery ?? {};
  return endurance(
    {
      ...(capacityAh === undefined ? {} : { capacityAh }),
      ...(chemistry === undefined ? {} : { chemistry }),
      ...(drawnA === null ? {} : { busCurrentA: drawnA }),
      ...(temperatureC === undefined ? {} : { temperatureC }),
      ...(profile.requiredEnduranceMin === undefined ? {} : { requiredMin: profile.requiredEnduranceMin }),
    },
    { coverage: COVERAGE, random: randomGenerator(1), drawCount: DRAWS },
  );
}

const DRAWS = 10_000;
