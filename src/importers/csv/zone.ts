import { InputError } from "../input-error.js";

/** Turns local clock readings into seconds since the epoch. */
export interface Zone {
  readonly name: string;
  /** The moments, in s since the epoch, at which a local clock shows this; none in a skipped hour, two in a repeated. */
  moments(localS: number): readonly number[];
}

/** The zone of that name: `UTC`, a fixed offset such as `+02:00`, or a name of the time-zone database. */
export function zoneByName(name: string): Zone {
  const fixed = /^(?:UTC|GMT|Z)?(?:([+-])(\d{1,2})(?::?(\d{2}))?)?$/i.exec(name);
  if (fixed !== null) {
    const offset = (Number(fixed[2] ?? 0) * 3600 + Number(fixed[3] ?? 0) * 60) * (fixed[1] === "-" ? -1 : 1);
    return { name, moments: (localS) => [localS - offset] };
  }
  const offsetAt = offsetLookup(name);
  return {
    name,
    moments(localS) {
      // No zone changes its offset twice within two days, so these two are all that can apply.
      const offsets = new Set([offsetAt(localS - 86_400), offsetAt(localS + 86_400)]);
      return [...offsets]
        .map((offset) => localS - offset)
        .filter((moment) => offsetAt(moment) === localS - moment)
        .sort((a, b) => a - b);
    },
  };
}

function offsetLookup(name: string): (epochS: number) => number {
  let format: Intl.DateTimeFormat;
  try {
    format = new Intl.DateTimeFormat("en-US", { timeZone: name, timeZoneName: "longOffset" });
  } catch {
    throw new InputError({
      problem: `there is no time zone "${name}"`,
      remedy: "give --zone as UTC, an offset such as +02:00, or a name such as Europe/Paris",
    });
  }
  const known = new Map<number, number>();
  return (epochS) => {
    // Zones change on quarter hours.
    const quarter = Math.floor(epochS / 900);
    let offset = known.get(quarter);
    if (offset === undefined) {
      const part = format.formatToParts(quarter * 900_000).find((p) => p.type === "timeZoneName")?.value ?? "GMT";
      const found = /([+-])(\d{2}):(\d{2})(?::(\d{2}))?/.exec(part);
      offset =
        found === null
          ? 0
          : (Number(found[2]) * 3600 + Number(found[3]) * 60 + Number(found[4] ?? 0)) * (found[1] === "-" ? -1 : 1);
      known.set(quarter, offset);
    }
    return offset;
  };
}
