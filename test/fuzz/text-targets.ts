import { readFileSync } from "node:fs";
import { gzipSync } from "node:zlib";
import { formatLogDescription, parseLogDescription } from "../../src/importers/columns/log-description.js";
import { importLogs } from "../../src/importers/csv/csv-importer.js";
import { LOG_OPTION_FLAGS, type LogOptions } from "../../src/importers/csv/log-options.js";
import { logOnDisk } from "../../src/importers/node-log-file.js";
import { readMarks } from "../../src/importers/profile/marks.js";
import { readProfile } from "../../src/importers/profile/profile.js";
import { blankSheet, readTickedSheet } from "../../src/importers/run-sheet/ticked-sheet.js";
import { parseDial } from "../../src/importers/video/dial.js";
import type { FuzzTarget } from "./fuzz-target.js";
import { checkFinite, Find } from "./oracle.js";

const sample = (name: string): string => readFileSync(new URL(`../../samples/${name}`, import.meta.url), "utf8");
const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
/** As the command line decodes a small file. */
const utf8 = (input: Uint8Array): string => new TextDecoder().decode(input);
const firstLines = (text: string, count: number): string => `${text.split("\n").slice(0, count).join("\n")}\n`;

const profileText = sample("ice-2.profile.yaml");
const profile = readProfile(profileText, "bus.yaml");

const LOGS: readonly string[] = [
  firstLines(sample("ice-2-ramp.csv"), 60),
  firstLines(sample("ice-2-bench.csv"), 40),
  "time_s,voltage_V,u_V\n0,24.1,0.01\n0.1,24.2,0.02\n0.2,24.15,0.01\n",
  "Datum;Zeit;Spannung [mV];Strom (A)\n02.03.2026;10:00:00,5;24100,5;1,25\n02.03.2026;10:00:01,0;24099,5;1,26\n02.03.2026;10:00:01,5;24098;1,3\n",
  '"timestamp","U (V)","flag"\r\n"2026-03-02T10:00:00.000Z","24.10",""\r\n"2026-03-02T10:00:00.100+01:00","24.11","OL"\r\n',
  "# made by: a logger\n# interval: 0.1 s\nV\n24.1\n24.2\n24.15\n24.12\n24.3\n",
  "clock\tbus V\n23:59:58\t27.1\n23:59:59\t27.0\n00:00:00\t26.9\n00:00:01\t27.2\n12:00:00 AM\t27\n",
  "epoch_ms|voltage|temp °C\n1772445600000|24.1|15\n1772445600100|24.2|15\n1772445600200|---|15\n",
  "s V\n0 1\n1 1\n2 1.5\n\ntime,voltage\n3,2\n",
  "date,voltage\n46083.5,24.1\n46083.50001,24.2\n46083.50002,24.3\n",
  "time,voltage\n03/04/2026 10:00,24.1\n13/04/2026 10:00,24.2\n03/25/2026 10:00,24\n",
];

const LOG_WORDS = [
  ...["time", "time_s", "voltage_V", "current_A", "u_V", "mV", "kV", "µA", "°C", "date", "clock", "epoch", "Zeit"],
  ...[
    ",",
    ";",
    "\t",
    "|",
    "\r\n",
    "\r",
    "\n\n",
    '"',
    '""',
    "\ufeff",
    "\u0000",
    "\u001b[31m",
    "\u2028",
    "NaN",
    "OL",
    "#",
  ],
  ...[
    "2026-02-29",
    "24:00:00",
    "23:59:60",
    "31/12/1969",
    "0001-01-01",
    "9999-12-31T23:59:59Z",
    "+14:00",
    "12:60",
    "AM",
  ],
  ...["# interval: 0", "# voltage: ", "interval = 1e-300 s", "1e-320", "٣", "１２", "−5", "1 000,5", "1'000", "\ufffd"],
];

/** What a log was read as, so that new ways of reading are kept. */
async function readLogBytes(input: Uint8Array, options: LogOptions): Promise<string> {
  const file = { name: "log.csv", size: input.length, open: () => [input] };
  for (const wanted of ["voltage", "current"] as const) {
    const { recording, current, understood } = await importLogs([file], wanted, options);
    checkFinite({ recording, current });
    const times = recording?.timesS ?? current?.timesS ?? new Float64Array();
    const at = times.findIndex((time, i) => i > 0 && time < times[i - 1]!);
    if (at > 0) throw new Find(`time goes back at reading ${at}`);
    if (wanted === "voltage" && current === null) return understood.map(({ code }) => code).join(" ");
  }
  return "with a current";
}

export const csvTarget: FuzzTarget = {
  name: "csv",
  words: LOG_WORDS,
  seeds: () => [
    ...LOGS.map(bytes),
    ...LOGS.slice(2, 5).map((text) => Uint8Array.from(Buffer.from(`\ufeff${text}`, "utf16le"))),
  ],
  run: (input) => readLogBytes(input, {}),
};

export const packedLogTarget: FuzzTarget = {
  name: "gzip",
  words: [],
  seeds: () => LOGS.slice(0, 4).map((text) => Uint8Array.from(gzipSync(text))),
  onDisk: true,
  async run(_input, path) {
    const log = await logOnDisk(path);
    const { recording } = await importLogs([log], "voltage", {});
    checkFinite(recording);
    return `${log.compressed()} ${(await log.sha256()).length}`;
  },
};

export const profileTarget: FuzzTarget = {
  name: "profile",
  words: [
    ...["aircraft", "battery", "chemistry", "lead-acid", "cells", "resistance_mOhm", "value", "u", "loads", "accept_A"],
    ...["rated", "power_W", "at_V", "tolerance_pct", "kind", "heater", "constant-power", "shows", "heard", "after"],
    ...[
      "time_limit_s",
      "switch",
      "order",
      "friction_V",
      "scale_rises",
      "clockwise",
      "bus_current_A",
      "&a ",
      "*a",
      "<<: *a",
      "!!binary ",
      "? ",
      "---\n",
    ],
    ...[
      "\t",
      "[[[[[[[[",
      "{{{{",
      "|",
      ">",
      "!!js/function ",
      "__proto__",
      "constructor",
      "\u0000",
      "\u001b[2J",
      "\u2028",
    ],
  ],
  seeds: () => [
    bytes(profileText),
    bytes(sample("ice-2-probe-a.profile.yaml")),
    bytes(sample("ice-2-battery.profile.yaml")),
  ],
  run(input) {
    checkFinite(readProfile(utf8(input), "bus.yaml"));
    return "read";
  },
};

export const marksTarget: FuzzTarget = {
  name: "marks",
  words: [
    "time_s",
    "load",
    "action",
    "on",
    "off",
    ",",
    '"',
    "\n",
    "probe-heat-a",
    "#",
    "\u0000",
    "\u001b[0m",
    "\ufeff",
    "\r",
  ],
  seeds: () => [bytes(sample("ice-2-ramp.marks.csv")), bytes("time_s,load,action\n1,,on\n2,,off\n")],
  run(input) {
    for (const bus of [null, profile]) checkFinite(readMarks(utf8(input), "marks.csv", bus));
    return "read";
  },
};

export const sheetTarget: FuzzTarget = {
  name: "sheet",
  words: [
    "item",
    "items",
    "found",
    "seen",
    "heard",
    "felt",
    "not",
    "when",
    "by",
    "note",
    "- ",
    "*a",
    "&a ",
    "\u001b[0m",
    "|\n",
  ],
  seeds: () => [
    bytes(blankSheet(profile)),
    bytes("date: 2026-03-02\nby: A\nitems:\n  - { item: landing-light, found: seen, when: 10:30, note: ok }\n"),
  ],
  run(input) {
    const { ticks } = readTickedSheet(utf8(input), "check.yaml", profile);
    checkFinite(ticks);
    return `${ticks.length} ticks`;
  },
};

export const dialTarget: FuzzTarget = {
  name: "dial",
  words: [
    "still",
    "time_s",
    "width",
    "height",
    "pivot",
    "marks",
    "x",
    "y",
    "volts",
    "- ",
    ".nan",
    ".inf",
    "&a ",
    "*a",
    "\u0007",
  ],
  seeds: () => [bytes(sample("ice-2-panel.dial.yaml"))],
  run(input) {
    checkFinite(parseDial(utf8(input), "dial.yaml"));
    return "read";
  },
};

export const columnsTarget: FuzzTarget = {
  name: "columns",
  words: [
    ...LOG_OPTION_FLAGS.map(({ key }) => key),
    "tab",
    "utf-16le",
    "Europe/Paris",
    "excel",
    "stamp",
    "-1",
    ".nan",
    "*a",
    "&a ",
  ],
  seeds: () => [
    bytes(
      formatLogDescription({ delimiter: ",", decimal: ".", timeColumn: "time_s", voltageColumn: 2, headerLine: 1 }),
    ),
    bytes("zone: Europe/Paris\ntimeFormat: clock\nmissing: [OL, '---']\nintervalS: 0.5\ncurrentSign: -1\n"),
    bytes("timeUnit: ms\nvoltageUnit: mV\nencoding: latin-1\ndateOrder: day-first\ncurrentZeroA: 0.25\nfileGapS: 2\n"),
  ],
  async run(input) {
    const options = parseLogDescription(utf8(input), "columns.yaml");
    checkFinite(options);
    const answers: string[] = [];
    for (const log of LOGS.slice(0, 5)) answers.push(await readLogBytes(bytes(log), options));
    return answers.join();
  },
};
