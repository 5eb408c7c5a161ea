import { batteryOf, installationOf } from "./battery-table.js";
import { type Connection, openConnection, type SqlValue } from "./connection.js";
import type { StoreLocation } from "./location.js";
import { migrate, refuseOthers } from "./migration.js";
import { type HistoryReading, PACKED_COLUMNS, type PackedReading, readingOf } from "./reading.js";
import type { BatteryEntry, Estimated, InstallationEntry, RecordingEntry } from "./recording-entry.js";
import { insertRecording, readRecording } from "./recording-table.js";
import { StoreError } from "./store-error.js";

/** A line of the list of recordings. */
export interface RecordingLine {
  readonly hash: string;
  readonly battery: string;
  readonly aircraft: string | null;
  readonly atS: number;
  readonly source: string;
}

/** Two recordings that may be one. */
export interface RecordingTwins {
  readonly battery: string;
  readonly atS: number;
  readonly hashes: readonly [string, string];
}

/** A battery's standing data with the number and span of its recordings. */
export interface BatteryLine extends BatteryEntry {
  readonly recordingCount: number;
  readonly firstAtS: number | null;
  readonly lastAtS: number | null;
}

/** What a battery's plate says, where it is told. */
export type BatteryPlate = Partial<Pick<BatteryEntry, "chemistry" | "cells" | "capacityAh">>;

/** Opens a history; `make` allows a new one. @throws StoreError */
export function openHistory(location: StoreLocation, options: { readonly make: boolean }): History {
  const connection = openConnection(location, options.make);
  try {
    refuseOthers(connection);
    connection.makeDurable();
    migrate(connection);
  } catch (error) {
    connection.close();
    throw error;
  }
  return new History(connection);
}

/** Batteries, where they were installed, and their recordings. Every method throws StoreError where the database fails. */
export class History {
  readonly #connection: Connection;

  constructor(connection: Connection) {
    this.#connection = connection;
  }

  get place(): string {
    return this.#connection.place;
  }

  /** Adds a recording in one transaction; one that is there already, by its hash, changes nothing. */
  add(entry: RecordingEntry, plate: BatteryPlate = {}): "added" | "there" {
    return this.#connection.transaction(() => this.#addWithin(entry, plate));
  }

  /**
   * Adds a whole export: into a file all or nothing, on a server one recording at a time (run it again if it broke).
   *
   * @returns how many recordings were added and how many were there already
   */
  addAll(content: HistoryContent): { readonly added: number; readonly there: number } {
    const count = { added: 0, there: 0 };
    const plates = () => {
      for (const battery of content.batteries) this.#putBattery(battery);
      for (const installation of content.installations) this.#putInstallation(installation);
    };
    const one = (entry: RecordingEntry) => {
      count[this.#addWithin(entry, {})]++;
    };
    if (this.#connection.onServer) {
      this.#connection.transaction(plates);
      for (const entry of content.recordings) this.#connection.transaction(() => one(entry));
    } else {
      this.#connection.transaction(() => {
        plates();
        content.recordings.forEach(one);
      });
    }
    return count;
  }

  /** Removes recordings by their hashes. */
  remove(hashes: readonly string[]): number {
    return this.#connection.transaction(() =>
      hashes.reduce((count, hash) => {
        const [row] = this.#connection.all("SELECT id FROM recording WHERE hash = ?", [hash]);
        if (!row) return count;
        for (const table of ["dip", "estimate", "answer", "note"]) {
          this.#connection.run(`DELETE FROM ${table} WHERE recording_id = ?`, [row.id]);
        }
        return count + this.#connection.run("DELETE FROM recording WHERE id = ?", [row.id]).changes;
      }, 0),
    );
  }

  /**
   * Installs a battery in an aircraft; what was installed there, and where this battery was before, ends that day.
   *
   * @returns the battery that it replaces, if any
   */
  install(installation: Omit<InstallationEntry, "removedOn">, plate: BatteryPlate = {}): string | null {
    const { battery, aircraft, bus, installedOn, newLife } = installation;
    return this.#connection.transaction(() => {
      this.#ensureBattery(battery, plate);
      const [before] = this.#connection.all(
        `SELECT battery_id FROM installation WHERE aircraft = ? AND bus = ? AND removed_on IS NULL AND battery_id <> ?
         AND installed_on <= ?`,
        [aircraft, bus, battery, installedOn],
      );
      this.#connection.run(
        `UPDATE installation SET removed_on = ? WHERE removed_on IS NULL AND installed_on <= ?
         AND ((aircraft = ? AND bus = ?) OR battery_id = ?)`,
        [installedOn, installedOn, aircraft, bus, battery],
      );
      this.#putInstallation({ battery, aircraft, bus, installedOn, removedOn: null, newLife });
      return before ? String(before.battery_id) : null;
    });
  }

  /** Takes a battery out of service. @throws StoreError for a battery that is not in the history */
  retire(battery: string, retiredOn: string, because: string | null): void {
    this.#connection.transaction(() => {
      const { changes } = this.#connection.run("UPDATE battery SET retired_on = ?, retired_because = ? WHERE id = ?", [
        retiredOn,
        because,
        battery,
      ]);
      if (changes === 0) throw this.#unknownBattery(battery);
      this.#connection.run("UPDATE installation SET removed_on = ? WHERE battery_id = ? AND removed_on IS NULL", [
        retiredOn,
        battery,
      ]);
    });
  }

  batteries(): BatteryLine[] {
    return this.#connection
      .all(
        `SELECT battery.*, count(recording.id) AS recordings, min(recording.at_s) AS first_s, max(recording.at_s) AS last_s
         FROM battery LEFT JOIN recording ON recording.battery_id = battery.id GROUP BY battery.id ORDER BY battery.id`,
      )
      .map((row) => ({
        ...batteryOf(row),
        recordingCount: Number(row.recordings),
        firstAtS: row.first_s === null ? null : Number(row.first_s),
        lastAtS: row.last_s === null ? null : Number(row.last_s),
      }));
  }

  installations(battery?: string): InstallationEntry[] {
    const [where, values] = battery === undefined ? ["", []] : ["WHERE battery_id = ?", [battery]];
    return this.#connection
      .all(`SELECT * FROM installation ${where} ORDER BY installed_on, id`, values)
      .map(installationOf);
  }

  /** Recordings in the order of time, of one battery or of all. */
  recordings(battery?: string): RecordingLine[] {
    const [where, values] = battery === undefined ? ["", []] : ["WHERE battery_id = ?", [battery]];
    return this.#connection
      .all(`SELECT hash, battery_id, aircraft, at_s, source FROM recording ${where} ORDER BY at_s, id`, values)
      .map((row) => ({
        hash: String(row.hash),
        battery: String(row.battery_id),
        aircraft: row.aircraft === null ? null : String(row.aircraft),
        atS: Number(row.at_s),
        source: String(row.source),
      }));
  }

  /** Recordings whose hash begins so, whole; at most ten. */
  recordingsBy(hashStart: string): RecordingEntry[] {
    return this.#connection
      .all("SELECT * FROM recording WHERE substr(hash, 1, ?) = ? ORDER BY at_s LIMIT 10", [
        hashStart.length,
        hashStart.toLowerCase(),
      ])
      .map((row) => readRecording(this.#connection, row));
  }

  /**
   * Recordings of one battery and one day (UTC) that tell the very same resistance, and so may be one flight kept twice;
   * of that battery only, or of all.
   */
  twins(battery?: string): RecordingTwins[] {
    const [where, values] = battery === undefined ? ["", []] : ["AND recording.battery_id = ?", [battery]];
    return this.#connection
      .all(
        `SELECT recording.battery_id, min(recording.at_s) AS at_s, min(recording.hash) AS one, max(recording.hash) AS other
         FROM recording CROSS JOIN estimate ON estimate.recording_id = recording.id
         WHERE estimate.quantity IN ('source-resistance', 'internal-resistance') ${where}
         GROUP BY recording.battery_id, CAST(recording.at_s / 86400 AS INTEGER), estimate.quantity, estimate.after_s,
           estimate.value, estimate.u
         HAVING count(DISTINCT recording.hash) > 1 ORDER BY recording.battery_id, min(recording.at_s), estimate.quantity`,
        values,
      )
      .map((row) => ({
        battery: String(row.battery_id),
        atS: Number(row.at_s),
        hashes: [String(row.one), String(row.other)] as const,
      }))
      .filter((twin, k, all) => all.findIndex(({ hashes }) => hashes.join() === twin.hashes.join()) === k);
  }

  /** Readings of the named quantities in the order of battery and time. */
  readings(quantities: readonly Estimated[], battery?: string): HistoryReading[] {
    const places = quantities.map(() => "?").join(", ");
    const values: SqlValue[] = [...quantities, ...(battery === undefined ? [] : [battery])];
    // A cross join keeps the tables in this order, so that the index on battery and time groups them without a sort.
    const selection = `SELECT recording.battery_id, recording.hash, recording.at_s, recording.aircraft, recording.report,
        recording.temperature_c, recording.state_of_charge, estimate.quantity, estimate.load, estimate.after_s, estimate.value, estimate.u
      FROM recording CROSS JOIN estimate ON estimate.recording_id = recording.id
      WHERE estimate.quantity IN (${places}) ${battery === undefined ? "" : "AND recording.battery_id = ?"}`;
    return this.#packed(selection, values);
  }

  /** Resistances of the first `flights` recordings of up to `most` batteries that have as many. */
  firstResistances(flights: number, most: number): HistoryReading[] {
    return this.#packed(
      `WITH chosen AS (SELECT battery_id FROM recording GROUP BY battery_id HAVING count(*) >= ? ORDER BY battery_id LIMIT ?),
         numbered AS (SELECT recording.*, row_number() OVER (PARTITION BY battery_id ORDER BY at_s) AS flight
           FROM recording WHERE battery_id IN (SELECT battery_id FROM chosen))
       SELECT numbered.battery_id, numbered.hash, numbered.at_s, numbered.aircraft, numbered.report,
         numbered.temperature_c, numbered.state_of_charge, estimate.quantity, estimate.load, estimate.after_s, estimate.value, estimate.u
       FROM numbered JOIN estimate ON estimate.recording_id = numbered.id
       WHERE flight <= ? AND estimate.quantity LIKE '%-resistance'`,
      [flights, most, flights],
    );
  }

  /** Required endurance of the latest recording of each battery that tells it, minutes. */
  requiredEndurances(): ReadonlyMap<string, number> {
    // With max() the other columns come from the row of the maximum: SQLite, "bare columns in an aggregate query".
    const rows = this.#connection.all(
      `SELECT battery_id, required_endurance_min AS minutes, max(at_s) FROM recording
       WHERE required_endurance_min IS NOT NULL GROUP BY battery_id`,
    );
    return new Map(rows.map((row) => [String(row.battery_id), Number(row.minutes)]));
  }

  /** All that the history holds. */
  content(): HistoryContent {
    return {
      batteries: this.#connection.all("SELECT * FROM battery ORDER BY id").map(batteryOf),
      installations: this.installations(),
      recordings: this.#connection
        .all("SELECT * FROM recording ORDER BY at_s, id")
        .map((row) => readRecording(this.#connection, row)),
    };
  }

  close(): void {
    this.#connection.close();
  }

  /**
   * Readings of a selection in the order of battery and time, fetched as one row per battery: the library takes 12 microseconds for every row it
   * hands over, thirty times what the database needs to find it.
   */
  #packed(selection: string, values: readonly SqlValue[]): HistoryReading[] {
    return this.#connection
      .all(
        `SELECT battery_id, json_group_array(json_array(${PACKED_COLUMNS}))
           AS readings FROM (${selection}) GROUP BY battery_id ORDER BY battery_id`,
        values,
      )
      .flatMap((row) => (JSON.parse(String(row.readings)) as PackedReading[]).map((packed) => readingOf(row, packed)))
      .sort((a, b) => (a.battery === b.battery ? a.atS - b.atS : 0));
  }

  #addWithin(entry: RecordingEntry, plate: BatteryPlate): "added" | "there" {
    const there = this.#connection.all("SELECT id FROM recording WHERE hash = ?", [entry.hash]);
    if (there.length > 0) return "there";
    this.#ensureBattery(entry.battery, plate);
    insertRecording(this.#connection, entry);
    return "added";
  }

  #ensureBattery(id: string, plate: BatteryPlate): void {
    this.#connection.run(
      `INSERT INTO battery (id, chemistry, cells, capacity_ah) VALUES (?, ?, ?, ?)
       ON CONFLICT (id) DO UPDATE SET chemistry = coalesce(excluded.chemistry, chemistry),
         cells = coalesce(excluded.cells, cells), capacity_ah = coalesce(excluded.capacity_ah, capacity_ah)`,
      [id, plate.chemistry ?? null, plate.cells ?? null, plate.capacityAh ?? null],
    );
  }

  #putBattery(battery: BatteryEntry): void {
    this.#ensureBattery(battery.id, battery);
    if (battery.retiredOn === null) return;
    this.#connection.run("UPDATE battery SET retired_on = ?, retired_because = ? WHERE id = ?", [
      battery.retiredOn,
      battery.retiredBecause,
      battery.id,
    ]);
  }

  #putInstallation(installation: InstallationEntry): void {
    this.#ensureBattery(installation.battery, {});
    this.#connection.run(
      `INSERT INTO installation (battery_id, aircraft, bus, installed_on, removed_on, new_life) VALUES (?, ?, ?, ?, ?, ?)
       ON CONFLICT (battery_id, aircraft, bus, installed_on) DO UPDATE SET
         removed_on = excluded.removed_on, new_life = excluded.new_life`,
      [
        installation.battery,
        installation.aircraft,
        installation.bus,
        installation.installedOn,
        installation.removedOn,
        installation.newLife ? 1 : 0,
      ],
    );
  }

  #unknownBattery(battery: string): StoreError {
    const known = this.batteries().map((line) => line.id);
    const remedy =
      known.length === 0
        ? "the history holds no battery yet"
        : `it holds ${known.slice(0, 12).join(", ")}${known.length > 12 ? " ..." : ""}`;
    return new StoreError("bad-entry", this.place, `there is no battery ${battery}`, remedy);
  }
}

/** A whole history, as it is exported. */
export interface HistoryContent {
  readonly batteries: readonly BatteryEntry[];
  readonly installations: readonly InstallationEntry[];
  readonly recordings: readonly RecordingEntry[];
}
