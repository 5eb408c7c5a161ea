import type { Caution } from "./notes.js";
import type { BusProfile } from "./profile.js";

/** Cautions for every report; the Ni-Cd one unless the profile names another chemistry. */
export function cautionsFor(profile: BusProfile | null): readonly Caution[] {
  const always: readonly Caution[] = ["advisory", "hot-probe", "battery-falls", "current-not-heat"];
  const chemistry = profile?.battery?.chemistry;
  return chemistry === undefined || chemistry === "ni-cd" ? [...always, "ni-cd-temperature"] : always;
}
