/** One small file of each contract that people write by hand, using every key that it has. */
export const archivedTexts = {
  "profile.yaml": `aircraft: ICE-2
bus: essential
bus_current_A: { value: 12, u: 1 }
battery: { id: B-0417, chemistry: lead-acid, cells: 12, capacity_Ah: 44, installed: 2026-03-02,
           resistance_mOhm: { value: 9.5, u: 1.5 } }
path_resistance_mOhm: { value: 3.0, u: 0.5 }
meter: { full_scale_V: 30, smallest_division_V: 1, zero_V: 0, lag_s: 0.25, friction_V: 0.05 }
required_endurance_min: 30
loads:
  - { id: probe, name: Heated probe, kind: heater, rated: { power_W: 160, at_V: 28 }, accept_A: [4.0, 7.5],
      time_limit_s: 60, caution: covers off, order: 2, after: light, switch: s1, bus: essential }
  - { id: light, kind: resistive, rated: { power_W: 250, at_V: 28, tolerance_pct: 5 }, reference: true, order: 1 }
  - { id: lamps, kind: constant-current, rated: { current_A: 2.6 }, shows: seen, look_for: all four lit }
  - { id: altimeter, kind: constant-power, rated: { power_W: 12, at_V: 28 }, shows: heard }
`,
  "marks.csv": "time_s,load,action\n10,probe,on\n15,probe,off\n20,,on\n25,,off\n",
  "check.yaml": `aircraft: ICE-2
bus: essential
date: 2026-03-02
by: A. Person
items:
  - { item: lamps, found: seen, when: 10:30, note: all four }
  - { item: altimeter, found: not }
  - { item: probe, found: }
  - { item: light, found: felt, by: another }
`,
  "dial.yaml": `still: { time_s: 5.0, width: 1920, height: 1080 }
pivot: { x: 941, y: 799 }
marks:
  - { x: 690, y: 541, volts: 0 }
  - { x: 1131, y: 511, volts: 25 }
`,
  "columns.yaml": `delimiter: ";"
decimal: ","
headerLine: 1
timeColumn: Zeit
voltageColumn: 2
currentColumn: I
timeUnit: s
voltageUnit: mV
currentUnit: A
missing: [OL, "---"]
currentSign: -1
currentZeroA: 0.05
`,
  "recording.csv":
    "# site: ice cap\ntime_s,voltage_V,current_A,u_V\n0,24.61,1.2,0.01\n0.1,24.62,1.25,0.01\n0.25,24.605,,0.02\n",
} as const;
