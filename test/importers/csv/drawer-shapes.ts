import { type LogShape, lines, rows } from "./log-shapes.js";

const TENTHS = rows(12, (i) => `${(i / 10).toFixed(1)},${(24.6 - i / 100).toFixed(2)}`);
const TENTHS_READ = { first: [0, 24.6], last: [1.1, 24.49], count: 12 } as const;

/** Header words of further languages; from dictionaries, no published list. */
const LANGUAGES: readonly (readonly [string, string])[] = [
  ["Polish", "Czas;Napięcie;Prąd"],
  ["Russian", "Время, с;Напряжение, В;Ток, А"],
  ["Ukrainian", "Час;Напруга;Струм"],
  ["Czech", "Čas;Napětí;Proud"],
  ["Swedish", "Tid;Batterispänning;Ström"],
  ["Danish", "Tid;Spænding;Strøm"],
  ["Finnish", "Aika;Akkujännite;Virta"],
  ["Hungarian", "Idő;Feszültség;Áram"],
  ["Turkish", "Zaman;Gerilim;Akım"],
  ["Greek", "Χρόνος;Τάση;Ρεύμα"],
  ["Romanian", "Timp;Tensiune;Curent"],
  ["Chinese", "时间;电池电压;电流"],
  ["Japanese", "時間;電圧;電流"],
  ["Korean", "시간;전압;전류"],
  ["Polish, its accents as signs of their own", "Czas;Napięcie;Prąd".normalize("NFD")],
];

/** Exports of a drawer of loggers, each of which was once read wrongly, refused without need, or refused obscurely. */
export const DRAWER_SHAPES: readonly LogShape[] = [
  ...LANGUAGES.map(
    ([language, header]): LogShape => ({
      name: `${language} names`,
      log: lines(header, "0;27,3;1,5", "1;27,2;1,6"),
      first: [0, 27.3, 1.5],
      last: [1, 27.2, 1.6],
    }),
  ),
  {
    name: "few readings with am and pm below a header with a number between spaces",
    log: lines(
      "Time,Voltage,Channel 0 (Hz)",
      ",V,Hz",
      "2026-03-02 12:00:00.000 AM,10.000,400.000",
      "2026-03-02 12:00:00.001 AM,10.001,400.001",
      "2026-03-02 12:00:00.002 AM,10.002,400.002",
    ),
    first: [0, 10],
    last: [0.002, 10.002],
  },
  {
    name: "the same with tabs",
    log: lines(
      "Time\tVoltage\tChannel 0 (Hz)",
      "\tV\tHz",
      "2026-03-02 12:00:00.000 AM\t10.000\t400.000",
      "2026-03-02 12:00:00.001 AM\t10.001\t400.001",
      "2026-03-02 12:00:00.002 AM\t10.002\t400.002",
    ),
    first: [0, 10],
    last: [0.002, 10.002],
  },
  {
    name: "two carriage returns before each line feed",
    log: ["s,V", ...TENTHS, ""].join("\r\r\n"),
    ...TENTHS_READ,
  },
  {
    name: "stamps of whole minutes, sixty readings to each, begun in the middle of one",
    log: lines(
      "stamp,volt",
      ...rows(200, (i) => `2026-11-28 14:0${3 + Math.floor((i + 5) / 60)},${(24.6 - i / 1000).toFixed(3)}`),
    ),
    count: 200,
    first: [0, 24.6],
    last: [199, 24.401],
    says: ["stamps only tell 60 s and hold about 50 readings each; readings were spread at one even rate"],
  },
  {
    name: "three lines of header, the last of units behind the word for them",
    log: lines("Channel,,CH1,CH2", "Label,,Bus,Clamp", "Unit,s,V,A", "1,0.0,24.60,1.4", "2,0.1,24.61,1.5"),
    first: [0, 24.6, 1.4],
    last: [0.1, 24.61, 1.5],
    says: ["columns are named on line 2; readings start on line 4"],
  },
  {
    name: "facts with a number among them and as many cells as the readings",
    log: lines(
      "Separator\tTab",
      "Channels\t1\t",
      "Samples\t30\t",
      "***End_of_Header***\t\t",
      "Time\tVoltage\tComment",
      ...rows(30, (i) => `${(i / 10).toFixed(6)}\t${(24.6 - i / 100).toFixed(6)}\t`),
    ),
    count: 30,
    first: [0, 24.6],
    last: [2.9, 24.31],
    says: ["columns are named on line 5; readings start on line 6"],
  },
  {
    name: "a line of summary in a cell of its own",
    log: lines("s,V", ...TENTHS, "", "Total readings: 12"),
    ...TENTHS_READ,
    says: ["1 line of text among the readings left out (line 15)"],
  },
  {
    // 9.9E37 and 9.91E37 for overload and no number: SCPI-1999, volume 1, 7.2.1.4, from memory.
    name: "numbers that stand for overload",
    log: lines("s,mV", "0,24600", "1,9.9E+37", "2,-9.9E+37", "3,+9.91E37", "4,24490"),
    count: 2,
    first: [0, 24.6],
    last: [4, 24.49],
    says: ["3 voltage cells with a number that stands for overload left out (the first on line 3)"],
  },
  {
    name: "millivolts under a header that says volts",
    log: lines("Time (s),Voltage (V)", "0,25200", "1,25190", "2,25170"),
    refused:
      "log.csv: column 2 'Voltage (V)' is named in V, but its numbers are about 25200, as a bus has them in mV; " +
      "say --voltage-unit mV, or --voltage-unit V if the header is right",
  },
  {
    name: "volts under a header that says millivolts",
    log: lines("Time (s),Voltage (mV)", "0,25.2", "1,25.19", "2,25.17"),
    refused:
      "log.csv: column 2 'Voltage (mV)' is named in mV, but its numbers are about 25.2, as a bus has them in V; " +
      "say --voltage-unit V, or --voltage-unit mV if the header is right",
  },
  {
    name: "volts under a header that says millivolts, the unit told",
    log: lines("Time (s),Voltage (mV)", "0,25.2", "1,25.19", "2,25.17"),
    options: { voltageUnit: "V" },
    first: [0, 25.2],
    last: [2, 25.17],
  },
  {
    name: "a bus that was off, in millivolts",
    log: lines("Time (s),Voltage (mV)", "0,0.2", "1,0.1", "2,0.3"),
    first: [0, 0.0002],
    last: [2, 0.0003],
  },
  {
    name: "a meter that changes from volts to millivolts",
    log: lines("Time,Voltage", "0,25.20", "1,25.19", "2,25170", "3,25172"),
    refused:
      "log.csv: column 2 'Voltage' holds numbers of about 25.2 and of about 25200, as of a meter that changes between V and mV; " +
      "write all of them in one unit, or the unit of each in a column beside them",
  },
  {
    name: "the columns named anew with another unit",
    log: lines("time_s,voltage_V", "0,25.2", "1,25.1", "time_s,voltage_mV", "2,25.17", "3,25.12"),
    refused:
      "log.csv, line 4: the columns are named anew here, otherwise than above; " +
      "part the file at this line and analyze each recording by itself",
  },
  {
    name: "the columns named anew in another order",
    log: lines("time_s,voltage_V,temp_C", "0,25.2,21", "1,25.1,21", "time_s,temp_C,voltage_V", "2,21,25.17"),
    refused:
      "log.csv, line 4: the columns are named anew here, otherwise than above; " +
      "part the file at this line and analyze each recording by itself",
  },
  {
    name: "the same names and units anew",
    log: lines("Time,V", "s,V", "0,25.2", "1,25.1", "Time,V", "s,V", "2,25.17", "3,25.12"),
    count: 4,
    first: [0, 25.2],
    last: [3, 25.12],
  },
  {
    name: "thousands parted by commas between quotes, beside decimal points",
    log: lines("Time (s),Voltage (mV)", '0.0,"25,200"', '0.2,"25,190"', '0.4,"25,170"'),
    refused:
      "log.csv, line 2: the '.' is a decimal sign here, and the ',' in another cell may be one too or part the thousands; " +
      "say --decimal . if it parts the thousands (a log with two decimal signs must be exported anew)",
  },
  {
    name: "thousands parted by commas between quotes, the decimal sign told",
    log: lines("Time (s),Voltage (mV)", '0.0,"25,200"', '0.2,"25,190"', '0.4,"25,170"'),
    options: { decimal: "." },
    first: [0, 25.2],
    last: [0.4, 25.17],
  },
  {
    name: "stamps of minutes, all in one",
    log: lines("Time,Voltage", ...rows(20, (i) => `10:00,${(25.2 - i / 1000).toFixed(3)}`)),
    refused:
      "log.csv, line 3: the stamps tell only 60 s, too little to say how far apart these 20 readings are; " +
      "say it with --interval SECONDS, or let the logger write seconds",
  },
  {
    name: "stamps of minutes, the rate told",
    log: lines("Time,Voltage", ...rows(20, (i) => `10:00,${(25.2 - i / 1000).toFixed(3)}`)),
    options: { intervalS: 0.5 },
    first: [0, 25.2],
    last: [9.5, 25.181],
  },
  {
    // 20 readings of the first minute, 60, 58 and 61 of the next, 10 of the last: about one a second, not evenly.
    name: "stamps of minutes, of which the first and the last are not full",
    log: lines(
      "Time,Voltage",
      ...[20, 60, 58, 61, 10].flatMap((count, minute) =>
        rows(count, (i) => `10:0${minute},${(25 + i / 1000).toFixed(3)}`),
      ),
    ),
    count: 209,
    first: [0, 25],
    last: [20 + 180 + 9 * (60 / 61), 25.009],
    says: ["readings were spread evenly within each stamp"],
  },
  {
    name: "a block of rows written twice",
    log: lines(
      "s,V",
      ...rows(20, (i) => `${i},${(25.2 - i / 1000).toFixed(3)}`),
      ...rows(10, (i) => `${10 + i},${(25.19 - i / 1000).toFixed(3)}`),
      ...rows(10, (i) => `${20 + i},25.1`),
    ),
    refused:
      "log.csv, line 22: the 10 rows from here on repeat those from line 12 on, with the same times and readings; " +
      "delete such repeated rows, or export the log anew",
  },
  {
    name: "the meter's leads exchanged",
    log: lines("s,V", "0,-24.6", "1,-24.5", "2,-24.4", "3,0", "4,-24.6"),
    first: [0, 24.6],
    last: [4, 24.6],
    says: ["the voltage is negative (usually -24.5 V), as with the meter's leads exchanged; its sign was turned round"],
  },
  {
    name: "a bus that was off, a little below zero",
    log: lines("s,V", "0,-0.6", "1,-0.5", "2,-0.4"),
    first: [0, -0.6],
    last: [2, -0.4],
  },
  {
    name: "a voltage that no bus has",
    log: lines("s,V", ...rows(100, (i) => `${i},${i === 50 ? "-999.9" : (24.6 - i / 1000).toFixed(3)}`)),
    count: 99,
    first: [0, 24.6],
    last: [99, 24.501],
    says: ["1 voltage reading lies far off the usual 24.6 V, up to -999.9 V on line 52, and was left out"],
  },
  {
    name: "voltages that no bus has, too often for a fault",
    log: lines("s,V", "0,24.6", "1,-999.9", "2,24.5", "3,24.6", "4,24.49"),
    refused:
      "log.csv, line 3: 1 of 5 voltage readings lie far off the usual 24.5 V, such as -999.9 V here; " +
      "name another --voltage-column, or say --missing with what such cells read to leave them out",
  },
  {
    name: "the same with the number told to be no reading",
    log: lines("s,V", "0,24.6", "1,-999.9", "2,24.5", "3,24.6", "4,24.49"),
    options: { missing: ["-999.9"] },
    count: 4,
    first: [0, 24.6],
    last: [4, 24.49],
    says: ["1 voltage cell without a reading left out (line 3)"],
  },
  {
    name: "stamps in brackets, as a web server writes them",
    log: lines("when;V", "[28/Nov/2026:14:03:05 +0000];24.60", "[28/Nov/2026:14:03:06 +0000];24.49"),
    first: [0, 24.6],
    last: [1, 24.49],
    start: "2026-11-28T14:03:05.000Z",
  },
  {
    name: "hour, minute and second in columns of their own",
    log: lines("Hour,Minute,Second,V", "14,3,5.0,24.60", "14,3,5.1,24.49"),
    refused:
      "log.csv: the parts of the time stand in columns of their own: column 1 'Hour', column 2 'Minute', column 3 'Second'; " +
      "write date and time into one column, or say how far apart the readings are with --interval SECONDS",
  },
  {
    name: "the same with the interval told",
    log: lines("Hour,Minute,Second,V", "14,3,5.0,24.60", "14,3,5.1,24.49"),
    options: { intervalS: 0.1 },
    first: [0, 24.6],
    last: [0.1, 24.49],
  },
  {
    name: "a comma told to part the columns that is the decimal sign too",
    log: lines("t,U", "0,0,24,60", "0,1,24,61", "0,2,24,49"),
    options: { delimiter: "," },
    refused:
      "log.csv: each row has 4 cells by the comma below 2 names, so it seems to be the decimal sign too; " +
      "export the log anew with another delimiter, or say --header-line 0 and name the columns by their numbers",
  },
  {
    name: "no header, a count of the rows before stamp and voltage",
    log: lines("1;2026-11-28T14:03:05Z;24.60", "2;2026-11-28T14:03:06Z;24.61", "3;2026-11-28T14:03:07Z;24.49"),
    first: [0, 24.6],
    last: [2, 24.49],
  },
  {
    name: "no header, a count of the rows before seconds and voltage",
    log: lines(...rows(12, (i) => `${i + 1};${(i / 10).toFixed(1)};${i % 2 === 0 ? "24.60" : "24.49"}`)),
    count: 12,
    first: [0, 24.6],
    last: [1.1, 24.49],
    says: ["time taken from column 2, read as elapsed time in s, because its numbers only rise"],
  },
  {
    name: "numbers that may be parts of a day or seconds",
    log: lines("Time,Volts", ...rows(12, (i) => `${(0.5 + i / 100000).toFixed(5)},24.60`)),
    refused:
      "log.csv: column 1 'Time' counts from 0.5 to 0.50011, which may be parts of a day or seconds; " +
      "say --time-unit d or --time-unit s",
  },
  {
    name: "the same told to be days",
    log: lines("Time,Volts", "0.25,24.60", "0.50,24.49"),
    options: { timeUnit: "d" },
    first: [21_600, 24.6],
    last: [43_200, 24.49],
  },
  {
    name: "millivolts with a dot before the last three digits beside decimal commas",
    log: lines("Zeit (s);Spannung (mV)", "0,0;24.600", "0,1;24.610", "0,2;24.490"),
    refused:
      "log.csv: column 2 'Spannung (mV)' is named as the voltage, but holds cells such as '24.600'; " +
      "say --decimal , if its mark parts the thousands (a log with two decimal signs must be exported anew)",
  },
  {
    name: "the same told to part the thousands",
    log: lines("Zeit (s);Spannung (mV)", "0,0;24.600", "0,1;24.610", "0,2;24.490"),
    options: { decimal: "," },
    first: [0, 24.6],
    last: [0.2, 24.49],
  },
];
