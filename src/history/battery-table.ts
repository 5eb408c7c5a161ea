import type { SqlRow } from "./connection.js";
import type { BatteryEntry, InstallationEntry } from "./recording-entry.js";

/** The battery of a row of its table. */
export function batteryOf(row: SqlRow): BatteryEntry {
  return {
    id: String(row.id),
    chemistry: row.chemistry === null ? null : String(row.chemistry),
    cells: row.cells === null ? null : Number(row.cells),
    capacityAh: row.capacity_ah === null ? null : Number(row.capacity_ah),
    retiredOn: row.retired_on === null ? null : String(row.retired_on),
    retiredBecause: row.retired_because === null ? null : String(row.retired_because),
  };
}

/** The installation of a row of its table. */
export function installationOf(row: SqlRow): InstallationEntry {
  return {
    battery: String(row.battery_id),
    aircraft: String(row.aircraft),
    bus: String(row.bus),
    installedOn: String(row.installed_on),
    removedOn: row.removed_on === null ? null : String(row.removed_on),
    newLife: Number(row.new_life) === 1,
  };
}
