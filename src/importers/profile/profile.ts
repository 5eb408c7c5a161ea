import type { BatteryProfile, BusProfile, LoadProfile, RatedLoad, Uncertain } from "../../core/index.js";
import { refuseBadOrder } from "./check-order.js";
import { fieldFault, type ProfileText, schemaFault } from "./profile-fault.js";
import { type ProfileFile, profileSchema } from "./profile-schema.js";
import { parseYaml, plainValue } from "./yaml-text.js";

const PROFILE_FILE = {
  what: "profile",
  giveIt: "give the YAML file that describes the bus and its loads",
  fillIt: "write at least 'loads:' and one line per load",
};

/**
 * The bus profile in a YAML 1.2 text, checked key by key and turned into SI units.
 *
 * @throws InputError naming line and column, what was found and what to write instead.
 */
export function readProfile(text: string, fileName: string): BusProfile {
  const source = parseYaml(text, fileName, PROFILE_FILE);
  const found = plainValue(source);
  const parsed = profileSchema.safeParse(found);
  if (!parsed.success) throw schemaFault(source, profileSchema, parsed.error.issues, found);
  refuseContradictions(source, parsed.data, found);
  return toSiUnits(parsed.data);
}

/** What each field alone cannot show: repeated ids, limits the wrong way round, a reference of unknown current. */
function refuseContradictions(source: ProfileText, file: ProfileFile, found: unknown): void {
  const seen = new Map<string, number>();
  (file.loads ?? []).forEach((load, index) => {
    const earlier = seen.get(load.id);
    if (earlier !== undefined) {
      throw fieldFault(
        source,
        ["loads", index, "id"],
        found,
        `another id, since loads[${earlier}] has this one already`,
      );
    }
    seen.set(load.id, index);
    if (load.accept_A !== undefined && load.accept_A[0] > load.accept_A[1]) {
      throw fieldFault(source, ["loads", index, "accept_A"], found, "the lower current first, then the higher");
    }
    if (load.reference === true && load.rated === undefined) {
      throw fieldFault(
        source,
        ["loads", index, "rated"],
        found,
        "{ power_W: 250, at_V: 28 } or { current_A: 8.9 }, because a reference load needs a known current",
      );
    }
  });
  refuseBadOrder(source, file.loads ?? [], found);
  const meter = file.meter;
  if (meter?.zero_V !== undefined && meter.full_scale_V !== undefined && meter.zero_V >= meter.full_scale_V) {
    throw fieldFault(source, ["meter", "zero_V"], found, "a voltage below full_scale_V");
  }
}

function toSiUnits(file: ProfileFile): BusProfile {
  return {
    ...known("aircraft", file.aircraft),
    ...known("bus", file.bus),
    ...known("battery", file.battery && toBattery(file.battery)),
    ...known("pathResistanceOhm", file.path_resistance_mOhm && fromMilliohm(file.path_resistance_mOhm)),
    ...known(
      "meter",
      file.meter && {
        ...known("fullScaleV", file.meter.full_scale_V),
        ...known("smallestDivisionV", file.meter.smallest_division_V),
        ...known("zeroV", file.meter.zero_V),
        ...known("scaleRises", file.meter.scale_rises),
        ...known("lagS", file.meter.lag_s),
        ...known("frictionV", file.meter.friction_V),
      },
    ),
    ...known("requiredEnduranceMin", file.required_endurance_min),
    ...known("busCurrentA", file.bus_current_A),
    loads: (file.loads ?? []).map(toLoad),
  };
}

function toBattery(file: NonNullable<ProfileFile["battery"]>): BatteryProfile {
  return {
    ...known("id", file.id),
    ...known("chemistry", file.chemistry),
    ...known("cells", file.cells),
    ...known("capacityAh", file.capacity_Ah),
    ...known("installed", file.installed),
    ...known("resistanceOhm", file.resistance_mOhm && fromMilliohm(file.resistance_mOhm)),
  };
}

function toLoad(file: NonNullable<ProfileFile["loads"]>[number]): LoadProfile {
  return {
    id: file.id,
    kind: file.kind,
    reference: file.reference ?? false,
    ...known("name", file.name),
    ...known("rated", file.rated && toRated(file.rated)),
    ...known("acceptA", file.accept_A),
    ...known("shows", file.shows),
    ...known("lookFor", file.look_for),
    ...known("order", file.order),
    ...known("timeLimitS", file.time_limit_s),
    ...known("caution", file.caution),
    ...known("after", typeof file.after === "string" ? [file.after] : file.after),
    ...known("bus", file.bus),
    ...known("switch", file.switch),
  };
}

function toRated(file: NonNullable<NonNullable<ProfileFile["loads"]>[number]["rated"]>): RatedLoad {
  const tolerance = known("toleranceFraction", file.tolerance_pct === undefined ? undefined : file.tolerance_pct / 100);
  if ("current_A" in file) return { currentA: file.current_A, ...tolerance };
  return { powerW: file.power_W, atV: file.at_V, ...tolerance };
}

/** Milliohms exist only in the file. */
function fromMilliohm(file: { value: number; u: number }): Uncertain {
  return { value: file.value / 1000, u: file.u / 1000 };
}

/** A field that is left out when it is not known, since the core's profile has no undefined fields. */
function known<K extends string, V>(key: K, value: V | undefined): { [P in K]?: V } {
  return value === undefined ? {} : ({ [key]: value } as { [P in K]?: V });
}
