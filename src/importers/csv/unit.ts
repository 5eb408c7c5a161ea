export type Dimension = "time" | "voltage" | "current" | "temperature" | "other";

/** A unit of measurement as a logger writes it. */
export interface LogUnit {
  readonly dimension: Dimension;
  /** As shown to people and as taken by the unit options, e.g. `mV`. */
  readonly symbol: string;
  /** Powers of ten to divide by to reach V, A or s: 3 for mV, -3 for kV. */
  readonly decimalShift: number;
  /** Seconds per unit, where it is no power of ten (min, h, d); 1 otherwise. */
  readonly factor: number;
  /** What a meter adds to the unit: direct, alternating, or both together as one r.m.s. value. */
  readonly coupling: "dc" | "ac" | "ac+dc" | null;
}

const unit = (dimension: Dimension, symbol: string, decimalShift = 0, factor = 1): LogUnit => ({
  dimension,
  symbol,
  decimalShift,
  factor,
  coupling: null,
});

const TIME_WORDS: Readonly<Record<string, LogUnit>> = {
  s: unit("time", "s"),
  ms: unit("time", "ms", 3),
  us: unit("time", "us", 6),
  ns: unit("time", "ns", 9),
  min: unit("time", "min", 0, 60),
  h: unit("time", "h", 0, 3600),
  d: unit("time", "d", 0, 86400),
};

const TIME_ALIASES: Readonly<Record<string, string>> = {
  sec: "s",
  secs: "s",
  second: "s",
  seconds: "s",
  sek: "s",
  sekunden: "s",
  secondes: "s",
  segundos: "s",
  secondi: "s",
  msec: "ms",
  msecs: "ms",
  millis: "ms",
  millisec: "ms",
  millisecond: "ms",
  milliseconds: "ms",
  usec: "us",
  usecs: "us",
  micros: "us",
  microsecond: "us",
  microseconds: "us",
  nsec: "ns",
  nanos: "ns",
  nanosecond: "ns",
  nanoseconds: "ns",
  mins: "min",
  minute: "min",
  minutes: "min",
  minuten: "min",
  minutos: "min",
  hr: "h",
  hrs: "h",
  hour: "h",
  hours: "h",
  stunden: "h",
  day: "d",
  days: "d",
  tage: "d",
};

const PREFIX_SHIFT: Readonly<Record<string, number>> = { u: 6, m: 3, "": 0, k: -3 };

const SPELLED: Readonly<Record<string, string>> = {
  volt: "V",
  volts: "V",
  millivolt: "mV",
  millivolts: "mV",
  microvolt: "uV",
  microvolts: "uV",
  kilovolt: "kV",
  kilovolts: "kV",
  amp: "A",
  amps: "A",
  ampere: "A",
  amperes: "A",
  milliamp: "mA",
  milliamps: "mA",
  milliampere: "mA",
  milliamperes: "mA",
  microamp: "uA",
  microamps: "uA",
};

const OTHER = /^(m?Ah|[mkM]?Wh?|[kM]?Hz|%|[mkM]?(Ω|ohms?|Ohms?)|rpm|dB|hPa|kPa|psi|bar|V?AR?|kVA|Nm|kg|lux)$/;

/** Unit signs in Cyrillic letters. */
const CYRILLIC: Readonly<Record<string, string>> = {
  в: "V",
  мв: "mV",
  кв: "kV",
  а: "A",
  ма: "mA",
  с: "s",
  сек: "s",
  мс: "ms",
  мкс: "us",
  мин: "min",
  ч: "h",
};

/** The unit that a cell or a header's bracket spells, or null where it spells none. */
export function unitOf(text: string): LogUnit | null {
  const bare = text.trim();
  // Padding in a bracket is short; on a longer text the search for its end would take the square of its length.
  if (bare.length > 80) return null;
  const spelled = bare.replace(/[µμ]/g, "u").replace(/^[([{]\s*|\s*[)\]}]$/g, "");
  if (spelled === "" || spelled.length > 16) return null;
  const latin = CYRILLIC[spelled.toLowerCase()];
  if (latin !== undefined) return unitOf(latin);
  return timeUnit(spelled) ?? electricUnit(spelled) ?? temperatureUnit(spelled) ?? otherUnit(spelled);
}

function timeUnit(spelled: string): LogUnit | null {
  const lower = spelled.toLowerCase();
  return TIME_WORDS[lower] ?? TIME_WORDS[TIME_ALIASES[lower] ?? ""] ?? null;
}

function electricUnit(spelled: string): LogUnit | null {
  const found =
    /^(?:(ac\s*\+\s*dc|dc\s*\+\s*ac|acdc|dc|ac)\s*)?(.+?)(?:\s*(ac\s*\+\s*dc|dc\s*\+\s*ac|acdc|dc|ac|rms))?$/i.exec(
      spelled,
    );
  if (found === null) return null;
  const symbol = /^([uUmMkK]?)([vVaA])$/.exec(SPELLED[found[2]!.toLowerCase()] ?? found[2]!);
  if (symbol === null) return null;
  // "MV" is a shouted millivolt: no bus of this kind carries a megavolt.
  const prefix = symbol[1]!.toLowerCase();
  const letter = symbol[2]!.toUpperCase();
  const shift = PREFIX_SHIFT[prefix];
  if (shift === undefined) return null;
  const plain = unit(letter === "V" ? "voltage" : "current", `${prefix}${letter}`, shift);
  return { ...plain, coupling: couplingOf(found[1] ?? found[3]) };
}

function couplingOf(word: string | undefined): LogUnit["coupling"] {
  if (word === undefined) return null;
  const lower = word.toLowerCase().replace(/\s/g, "");
  if (lower === "dc") return "dc";
  if (lower === "ac") return "ac";
  return "ac+dc";
}

function temperatureUnit(spelled: string): LogUnit | null {
  if (/^(°\s*C|deg\s*C|C|celsius|℃)$/i.test(spelled)) return unit("temperature", "C");
  if (/^(°\s*F|deg\s*F|F|fahrenheit|℉)$/i.test(spelled)) return unit("temperature", "F");
  if (/^(K|kelvin)$/.test(spelled)) return unit("temperature", "K");
  return null;
}

function otherUnit(spelled: string): LogUnit | null {
  return OTHER.test(spelled) ? unit("other", spelled) : null;
}

/** The unit of that symbol; the symbols are those of the unit options. */
export function unitBySymbol(symbol: string): LogUnit {
  const found = unitOf(symbol);
  if (found === null) throw new RangeError(`Cannot use the unit "${symbol}": it is not a known symbol`);
  return found;
}
