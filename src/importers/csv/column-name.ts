import { type LogUnit, unitOf } from "./unit.js";

export type ColumnRole = "time" | "date" | "voltage" | "current" | "temperature";

/** A header's name, parted into what it names and its unit. */
export interface ColumnName {
  readonly words: readonly string[];
  readonly unit: LogUnit | null;
}

/** What names a column is shorter; the searches below take the square of the length. */
const LONGEST_NAME = 200;

/** Parts `Bus voltage [mV]`, `voltage_mV`, `U / V` or `Batt mV` into words and unit. */
export function parseColumnName(name: string): ColumnName {
  const plain = name.trim().slice(0, LONGEST_NAME);
  const bracket = /^(.*?)\s*[([{]\s*([^)\]}]*)\s*[)\]}]\s*$/.exec(plain);
  if (bracket !== null) {
    const unit = unitOf(bracket[2]!);
    const words = wordsOf(bracket[1]!);
    return unit !== null
      ? { words, unit }
      : { words: [...words, ...wordsOf(bracket[2]!)], unit: tailUnit(bracket[1]!)?.unit ?? null };
  }
  // Some logs name a column by its unit alone.
  return tailUnit(plain) ?? { words: wordsOf(plain), unit: unitOf(plain) };
}

/** A unit at the end of a name, behind a space, a slash, an underscore, a comma or the word "in". */
function tailUnit(name: string): ColumnName | null {
  const tail = /^(.+?)(?:\s*\/\s*|\s+in\s+|\s*[,:_-]\s*|\s+)([^\s/,_-]{1,12}(?:\s+(?:DC|AC|RMS))?)$/i.exec(name);
  const unit = tail === null ? null : unitOf(tail[2]!);
  if (tail === null || unit === null) return null;
  const words = wordsOf(tail[1]!);
  // "V min" is a least voltage, "Time min" a time in minutes; "probe C" is a label, "Temp C" a temperature.
  const other = unit.dimension === "time" && roleScore(words, "voltage") + roleScore(words, "current") > 0;
  const label = unit.dimension === "temperature" && tail[2]!.length === 1 && roleScore(words, "temperature") === 0;
  return other || label ? null : { words, unit };
}

function wordsOf(text: string): string[] {
  return text
    .normalize("NFC")
    .replace(/(\p{Ll})(\p{Lu}\p{Ll})/gu, "$1 $2")
    .toLowerCase()
    .split(/[^\p{L}\p{N}+]+/u)
    .filter((word) => word !== "");
}

const STRONG: Readonly<Record<ColumnRole, RegExp>> = {
  time: /^(time|times|timestamps?|ts|tstamp|when|moment|tow|datetime|zeit|uhrzeit|zeitstempel|temps|heure|horodatage|hora|tiempo|tempo|ora|tijd|tid|aika|czas|čas|vrijeme|zaman|idő|timp|время|час|χρόνος|时间|时刻|時間|時刻|시간|elapsed|t|clock|utc|epoch|unixtime|unix)$/u,
  date: /^(date|datum|fecha|data|day|tag|dato|päivä|dátum|tarih|дата|ημερομηνία|日期|日付|날짜)$/u,
  voltage:
    /^(voltages?|volts?|vdc|dcv|vbatt?\w*|vbus|ubatt?\w*|ubus|[uv]\d*|spannung|\w*spannung|tension|tensión|tensao|tensão|tensione|voltaje|voltaggio|spanning|napetost|τάση|vin|vout)$/u,
  current:
    /^(currents?|amps?|amperes?|adc|dca|ibatt?\w*|ibus|i\d*|strom|\w*strom|courant|corriente|corrente|stroom|amperage|ström|strøm|virta|prąd|proud|prúd|struja|curent|akım|áram|ток|струм|ρεύμα)$/u,
  temperature:
    /^(temp|temps?\d*|temperatures?|temperatur|température|temperatura|lämpötila|teplota|sıcaklık|hőmérséklet|температура|θερμοκρασία|tbatt?)$/u,
};

/** Parts of words that name the role as well. */
const WITHIN: Readonly<Record<ColumnRole, RegExp>> = {
  time: /time|zeit/,
  date: /date|datum/,
  voltage:
    /volt|spann[iu]ng|spänning|spænding|spenning|jännit|napięci|napět|napäti|napon|feszültség|tensiune|gerilim|напряжен|напруг|电压|電圧|電壓|전압/u,
  current: /(^|[^s])amp(s|ere|$)|current|strom|电流|電流|전류/u,
  temperature: /temp(erat|$)|温度|溫度|온도/u,
};

/** Words that go with the role but do not name it. */
const FAINT: Readonly<Partial<Record<ColumnRole, RegExp>>> = {
  voltage: /^(batt?|battery|bus|accu|akku|batterie|bateria)$/,
  current: /^(clamp|shunt|zange)$/,
};

/** Words that mark a column as something else than the plain reading of its kind. */
const ASIDE =
  /^(min|minimum|max|maximum|peak|avg|average|mean|std|stdev|sd|set|setpoint|limit|target|nominal|cutoff|alarm|threshold|ripple|ac|rms|step|cycle|lap|interval|delta|diff|rel|relative|ref|raw|counts?|elapsedcycle|sum|total|charge|capacity|energy|power)$/;

/** How well the words name that role: 3 exactly, 2 among others, 1 faintly, 0 not at all. */
export function roleScore(words: readonly string[], role: ColumnRole): number {
  if (words.length === 0) return 0;
  const joined = words.join("");
  if (STRONG[role].test(joined) || (words.length === 1 && STRONG[role].test(words[0]!))) return 3;
  if (words.some((word) => STRONG[role].test(word) || WITHIN[role].test(word))) return 2;
  return words.some((word) => FAINT[role]?.test(word) === true) ? 1 : 0;
}

/** Whether the name marks a minimum, a limit, a ripple or another companion of the reading proper. */
export function isAside(words: readonly string[]): boolean {
  return words.some((word) => ASIDE.test(word));
}
