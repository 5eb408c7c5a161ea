import { InputError } from "../input-error.js";
import type { DateOrder } from "./date-order.js";
import { LogFileReader } from "./log-file-reader.js";
import { finishLog, type LogSeries } from "./log-finish.js";
import type { LogOptions } from "./log-options.js";
import type { Wanted } from "./log-plan.js";
import type { Lanes } from "./regular-lane.js";
import { SeriesSet } from "./series-set.js";
import { DateOrderFault } from "./time-reader.js";

export type { LogSeries, TemperatureSeries } from "./log-finish.js";

/** A text log that can be opened, and opened again where a later row shows that it must be read otherwise. */
export interface LogFile {
  readonly name: string;
  /** Bytes that `open` will give; null where that is not known beforehand. */
  readonly size: number | null;
  open(): AsyncIterable<Uint8Array> | Iterable<Uint8Array>;
  /** Told when the file will not be opened again. */
  readonly release?: () => void;
}

/** Reads the files of one recording. @throws {InputError} where they cannot be read, or can be read in two ways. */
export async function importLogs(
  files: readonly LogFile[],
  wanted: Wanted,
  options: LogOptions,
  lanes: Lanes = "plain",
): Promise<LogSeries> {
  const set = new SeriesSet();
  const readers: LogFileReader[] = [];
  for (const file of files) {
    const before = readers.at(-1)?.sink?.timeReader;
    try {
      readers.push(
        await readOne(file, set, {
          wanted,
          options,
          lanes,
          size: file.size,
          originS: before?.originS ?? null,
          dateOrder: before?.settledOrder ?? null,
        }),
      );
    } catch (fault) {
      throw inFile(fault, file.name);
    }
  }
  try {
    return finishLog(set, readers, options);
  } catch (fault) {
    throw files.length === 1 ? inFile(fault, files[0]!.name) : fault;
  }
}

type Settings = ConstructorParameters<typeof LogFileReader>[2];

/** Reads a file with the order of day and month that its dates allow, beginning anew where one contradicts it. */
async function readOne(file: LogFile, set: SeriesSet, settings: Settings): Promise<LogFileReader> {
  let dateOrder = settings.dateOrder;
  const tried = new Set<DateOrder>();
  for (;;) {
    const rows = set.open(file.name);
    const reader = new LogFileReader(set, rows, { ...settings, dateOrder });
    try {
      for await (const chunk of file.open()) {
        reader.push(chunk);
        if (!reader.mayRestart) file.release?.();
      }
      reader.end();
      set.close(rows);
      reader.sink!.timeReader.settle();
      return reader;
    } catch (fault) {
      if (!(fault instanceof DateOrderFault)) throw fault;
      set.rewind(rows);
      tried.add(fault.assumed);
      dateOrder = untried(fault, tried);
      if (dateOrder === null) {
        throw new InputError({
          line: fault.line,
          problem: `there is no such date: '${fault.cell}'`,
          remedy: "mend the line, or name the order with --date-order",
        });
      }
    }
  }
}

function untried(fault: DateOrderFault, tried: ReadonlySet<DateOrder>): DateOrder | null {
  return [fault.fitting, ...fault.watch.possible].find((order) => order !== null && !tried.has(order)) ?? null;
}

/** The same fault with the name of its file. */
function inFile(fault: unknown, file: string): unknown {
  if (!(fault instanceof InputError) || fault.file !== undefined) return fault;
  return new InputError({
    file,
    problem: fault.problem,
    remedy: fault.remedy,
    ...(fault.line === undefined ? {} : { line: fault.line }),
    ...(fault.column === undefined ? {} : { column: fault.column }),
  });
}
