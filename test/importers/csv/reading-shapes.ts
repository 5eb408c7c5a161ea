import { type LogShape, lines, rows } from "./log-shapes.js";

/** Cells without a number, clamp meters, several channels, damaged files. */
export const READING_SHAPES: readonly LogShape[] = [
  {
    name: "blank voltage cells",
    log: lines("time_s,voltage_V,current_A", "0,,1.5", "1,27.3,1.6", "2,,1.7", "3,27.1,1.8"),
    count: 2,
    first: [1, 27.3],
    last: [3, 27.1],
    firstCurrent: [0, 1.5],
    lastCurrent: [3, 1.8],
    says: ["2 voltage cells without a reading left out (the first on line 2)"],
  },
  {
    name: "blank current cells",
    log: lines("time_s,voltage_V,current_A", "0,27.3,", "1,27.2,1.6", "2,27.1,"),
    count: 3,
    first: [0, 27.3],
    last: [2, 27.1],
    firstCurrent: [1, 1.6],
    lastCurrent: [1, 1.6],
  },
  {
    name: "rows that hold a temperature only",
    log: lines("time_s,voltage_V,temperature", "0,27.3,", "1,,20.5", "2,27.1,"),
    count: 2,
    first: [0, 27.3],
    last: [2, 27.1],
  },
  {
    name: "OL, dashes and words for no reading",
    log: lines("time_s,voltage_V", "0,27.3", "1,OL", "2,---", "3,n/a", "4,-OL", "5,27.1"),
    count: 2,
    first: [0, 27.3],
    last: [5, 27.1],
    says: ["4 voltage cells without a reading left out (the first on line 3)"],
  },
  {
    name: "a word of the logger's own for no reading, told",
    log: lines("time_s,voltage_V", "0,27.3", "1,SENSOR?", "2,27.1"),
    options: { missing: ["sensor?"] },
    count: 2,
    first: [0, 27.3],
    last: [2, 27.1],
  },
  {
    name: "text where a number should be",
    log: lines("time_s,voltage_V", "0,27.3", "1,twelve", "2,27.1"),
    refused:
      "log.csv, line 3: the voltage reads 'twelve', which is none; mend the line, or say --missing 'twelve' to leave such cells out",
  },
  {
    name: "NaN once in a long log",
    log: lines("time_s,voltage_V", ...rows(100, (i) => `${i},${i === 50 ? "NaN" : "27.3"}`)),
    count: 99,
    first: [0, 27.3],
    last: [99, 27.3],
    says: ["1 voltage cell that reads NaN or infinity left out (line 52)"],
  },
  {
    name: "NaN too often",
    log: lines("time_s,voltage_V", "0,27.3", "1,NaN", "2,27.1"),
    refused:
      "log.csv, line 3: 1 of 3 voltage cells read NaN or infinity, which is no voltage; " +
      "record again, or say --missing NaN to leave such cells out",
  },
  {
    name: "rows without a time",
    log: lines("time_s,voltage_V", "0,27.3", ",27.2", "2,27.1"),
    count: 2,
    first: [0, 27.3],
    last: [2, 27.1],
    says: ["1 row without a time left out (line 3)"],
  },
  {
    name: "a time that is none",
    log: lines("time_s,voltage_V", "0,27.3", "1x0,27.2", "2,27.1"),
    refused:
      "log.csv, line 3: the time reads '1x0', which is none; mend or delete the line, or name the form with --time-format",
  },
  {
    name: "a summary below the readings",
    log: lines("time_s,voltage_V", "0,27.3", "1,27.2", "2,27.1", "Min,27.1", "Max,27.3", "Average,27.2"),
    count: 3,
    last: [2, 27.1],
    says: ["3 lines of text among the readings left out (the first on line 5)"],
  },
  {
    name: "a clamp meter's log where the voltage belongs",
    log: lines("Time,Value,Unit", "0,5.71,A", "1,5.70,A", "2,5.72,A"),
    refused:
      "log.csv: no voltage column was found (column 2 'Value', column 3 'Unit'); " +
      "name it with --voltage-column, or give a log of the voltage and this one with --current",
  },
  {
    name: "the last line cut within its cells",
    log: `${lines("time_s,voltage_V,current_A", "0,27.3,1.5", "1,27.2,1.6", "2,27.1,1.7")}3,27`,
    count: 3,
    first: [0, 27.3, 1.5],
    last: [2, 27.1, 1.7],
    says: ["the last line (5) is cut short and was left out"],
  },
  {
    name: "the last line cut within its last number",
    log: `${lines("time_s,voltage_V", ...rows(30, (i) => `${i},27.30`))}30,2`,
    count: 30,
    first: [0, 27.3],
    last: [29, 27.3],
    says: ["the last line (32) is cut short and was left out"],
  },
  {
    name: "zeros at the end, as a logger leaves them that lost power",
    log: `${lines("time_s,voltage_V", "0,27.3", "1,27.2")}${"\0".repeat(64)}`,
    count: 2,
    first: [0, 27.3],
    last: [1, 27.2],
  },
  {
    name: "two voltage columns",
    log: lines("time_s,Bus V,Battery V", "0,27.3,27.9", "1,27.2,27.8"),
    refused:
      "log.csv: 2 columns may hold the voltage: column 2 'Bus V', column 3 'Battery V'; say which with --voltage-column",
  },
  {
    name: "two voltage columns, one told by its name",
    log: lines("time_s,Bus V,Battery V", "0,27.3,27.9", "1,27.2,27.8"),
    options: { voltageColumn: "battery v" },
    first: [0, 27.9],
    last: [1, 27.8],
    says: ["column 3 'Battery V' read as voltage in V, as you said"],
  },
  {
    name: "a column told that is not there",
    log: lines("time_s,Bus V", "0,27.3", "1,27.2"),
    options: { voltageColumn: "U2" },
    refused: "log.csv: there is no column 'U2'; give --voltage-column one of: column 2 'Bus V'",
  },
  {
    name: "mean, least and greatest in three columns",
    log: lines("time_s,V avg,V min,V max", "0,27.3,27.1,27.5", "1,27.2,27.0,27.4"),
    first: [0, 27.3],
    last: [1, 27.2],
    says: ["column 3 'V min' left out: its name marks it as a companion of the voltage"],
  },
  {
    name: "a limit beside the voltage",
    log: lines("time_s,Voltage (V),Voltage limit (V)", "0,27.3,24", "1,27.2,24"),
    first: [0, 27.3],
    last: [1, 27.2],
  },
  {
    name: "direct and alternating current in two columns",
    log: lines("time_s,Voltage (V),Current (A DC),Current (A AC)", "0,27.3,5.1,0.2", "1,27.2,5.2,0.3"),
    first: [0, 27.3, 5.1],
    last: [1, 27.2, 5.2],
    says: ["column 4 'Current (A AC)' left out: it holds an alternating part"],
  },
  {
    name: "an AC+DC clamp",
    log: lines("time_s,Voltage (V),Current (A AC+DC)", "0,27.3,5.1", "1,27.2,5.2"),
    first: [0, 27.3, 5.1],
    last: [1, 27.2, 5.2],
    says: ["the current is an AC+DC reading: it has no sign and any ripple adds to it"],
  },
  {
    name: "a unit behind every number, changing with the range",
    log: lines("time,voltage,current", "10:00:00,27.31 V,950.0 mA", "10:00:01,27.20 V,1.020 A"),
    first: [0, 27.31, 0.95],
    last: [1, 27.2, 1.02],
    says: ["the current changes its unit along the way (mA, A); every reading was converted by its own"],
  },
  {
    name: "the unit in a column of its own",
    log: lines("Time,Current,Unit,Voltage", "0,950,mA DC,27.3", "1,1.02,A DC,27.2"),
    first: [0, 27.3, 0.95],
    last: [1, 27.2, 1.02],
  },
  {
    name: "a meter that was switched to AC for a while",
    log: lines("Time,Current,Unit,Voltage", "0,5.1,A DC,27.3", "1,0.3,A AC,27.2", "2,5.2,A DC,27.1"),
    first: [0, 27.3],
    last: [2, 27.1],
    firstCurrent: [0, 5.1],
    lastCurrent: [2, 5.2],
    says: ["1 current reading taken in an AC range left out (line 3)"],
  },
  {
    name: "a clamp turned round, with a zero offset",
    log: lines("time_s,voltage_V,current_A", "0,27.3,-5.0", "1,27.2,-10.5"),
    options: { currentSign: -1, currentZeroA: 0.5 },
    first: [0, 27.3, 5.5],
    last: [1, 27.2, 11],
    says: [
      "0.5 A taken off every current reading, as you said",
      "the sign of the current was turned round, as you said",
    ],
  },
  {
    name: "no voltage column",
    log: lines("time_s,current_A,speed_rpm", "0,5,900", "1,5,900"),
    refused:
      "log.csv: no voltage column was found (column 2 'current_A', column 3 'speed_rpm'); name it with --voltage-column, or give a log of the voltage and this one with --current",
  },
  {
    name: "a voltage column without a reading",
    log: lines("time_s,voltage_V,current_A", "0,,1", "1,OL,1"),
    refused: "log.csv: no row holds a voltage; name the column with --voltage-column",
  },
  { name: "an empty file", log: "", refused: "log.csv: the file is empty; give a log with readings" },
  {
    name: "a header and nothing else",
    log: lines("time_s,voltage_V"),
    refused:
      "log.csv: no rows of numbers were found in this file; give a text log with one reading per line, or name its --delimiter and --decimal",
  },
  {
    name: "prose",
    log: lines("Dear colleague,", "the probe was warm again.", "Regards"),
    refused:
      "log.csv: no rows of numbers were found in this file; give a text log with one reading per line, or name its --delimiter and --decimal",
  },
  {
    name: "bytes that are no text",
    log: Uint8Array.from({ length: 500 }, (_, i) => (i * 7) % 32),
    refused: "log.csv: this is not a text file; export the log as CSV or text and give that",
  },
  {
    name: "a spreadsheet workbook",
    log: Uint8Array.from([0x50, 0x4b, 3, 4, 20, 0, 6, 0, 8, 0, 0, 0]),
    refused:
      "log.csv: this is a spreadsheet workbook or another zip archive; export the log as CSV or text and give that",
  },
  {
    name: "two voltage columns without units",
    log: lines("timestamp_ms,BattVolt,V_BUS", "1772445600000,27.3,27.1", "1772445600100,27.3,27.1"),
    refused:
      "log.csv: 2 columns may hold the voltage: column 2 'BattVolt', column 3 'V_BUS'; say which with --voltage-column",
  },
  {
    name: "a meter's list of readings with the unit beside",
    log: lines(
      "Meter,X100",
      "Start,02-Mar-26 10:00",
      "Sample,DateTime,Reading,Unit",
      "1,02-Mar-26 10:00:00,27.31,VDC",
      "2,02-Mar-26 10:00:01,27.30,VDC",
    ),
    first: [0, 27.31],
    last: [1, 27.3],
    says: ["column 3 'Reading' read as voltage in V, by its unit; the unit stands beside the numbers"],
  },
];
