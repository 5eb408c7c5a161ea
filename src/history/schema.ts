/**
 * Schema of the history by version: element 0 leads from an empty database to version 1, and so on.
 *
 * Released steps are never changed; a new version adds a step. Units: V, A, Ohm, s, min; moments in seconds since
 * 1970-01-01 UTC; days as ISO 8601 dates.
 */
export const SCHEMA_STEPS: readonly (readonly string[])[] = [
  [
    `CREATE TABLE battery (
      id TEXT PRIMARY KEY,
      chemistry TEXT,
      cells INTEGER,
      capacity_ah REAL,
      retired_on TEXT,
      retired_because TEXT
    ) STRICT`,
    `CREATE TABLE installation (
      id INTEGER PRIMARY KEY,
      battery_id TEXT NOT NULL REFERENCES battery (id),
      aircraft TEXT NOT NULL,
      bus TEXT NOT NULL DEFAULT '',
      installed_on TEXT NOT NULL,
      removed_on TEXT,
      new_life INTEGER NOT NULL DEFAULT 0,
      UNIQUE (battery_id, aircraft, bus, installed_on)
    ) STRICT`,
    `CREATE TABLE recording (
      id INTEGER PRIMARY KEY,
      hash TEXT NOT NULL UNIQUE,
      battery_id TEXT NOT NULL REFERENCES battery (id),
      aircraft TEXT,
      bus TEXT,
      at_s REAL NOT NULL,
      source TEXT NOT NULL,
      sample_count INTEGER,
      duration_s REAL,
      sample_rate_hz REAL,
      sigma_v REAL,
      temperature_c REAL,
      state_of_charge REAL,
      report TEXT,
      software TEXT,
      remark TEXT
    ) STRICT`,
    "CREATE INDEX recording_by_battery ON recording (battery_id, at_s)",
    `CREATE TABLE dip (
      recording_id INTEGER NOT NULL REFERENCES recording (id) ON DELETE CASCADE,
      number INTEGER NOT NULL,
      onset_s REAL NOT NULL,
      release_s REAL NOT NULL,
      depth_v REAL NOT NULL,
      u_v REAL NOT NULL,
      load TEXT,
      PRIMARY KEY (recording_id, number)
    ) STRICT, WITHOUT ROWID`,
    `CREATE TABLE estimate (
      recording_id INTEGER NOT NULL REFERENCES recording (id) ON DELETE CASCADE,
      quantity TEXT NOT NULL,
      load TEXT NOT NULL DEFAULT '',
      after_s REAL NOT NULL DEFAULT -1,
      value REAL NOT NULL,
      u REAL NOT NULL,
      low REAL,
      high REAL,
      coverage REAL,
      route TEXT,
      PRIMARY KEY (recording_id, quantity, load, after_s)
    ) STRICT, WITHOUT ROWID`,
    `CREATE TABLE answer (
      recording_id INTEGER NOT NULL REFERENCES recording (id) ON DELETE CASCADE,
      load TEXT NOT NULL,
      name TEXT NOT NULL,
      verdict TEXT NOT NULL,
      p_value REAL,
      switching_count INTEGER NOT NULL,
      PRIMARY KEY (recording_id, load)
    ) STRICT, WITHOUT ROWID`,
    `CREATE TABLE note (
      recording_id INTEGER NOT NULL REFERENCES recording (id) ON DELETE CASCADE,
      number INTEGER NOT NULL,
      kind TEXT NOT NULL,
      code TEXT NOT NULL,
      text TEXT NOT NULL,
      PRIMARY KEY (recording_id, number)
    ) STRICT, WITHOUT ROWID`,
  ],
  // A required endurance belongs to the aircraft's bus at the time of the recording.
  ["ALTER TABLE recording ADD COLUMN required_endurance_min REAL"],
];
