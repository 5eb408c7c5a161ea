import type { RandomSource } from "../../samples/simulator/random-source.js";

/** What a mutation may draw on beside the input itself. */
export interface MutationMeans {
  readonly random: RandomSource;
  /** Words of the format. */
  readonly dictionary: readonly string[];
  /** Another input to take a piece from. */
  readonly other: Uint8Array;
  /** Longest result in bytes. */
  readonly largestBytes: number;
}

type Mutation = (input: Uint8Array, means: MutationMeans) => Uint8Array;

/** Numbers that stand at the edges of what programs hold. */
const EDGE_NUMBERS = [
  ...[
    "0",
    "-0",
    "1",
    "-1",
    "0.5",
    "1e308",
    "-1e308",
    "1e309",
    "5e-324",
    "NaN",
    "Infinity",
    "-inf",
    "1e-9",
    "1e9",
    "1e15",
  ],
  ...[
    "2147483647",
    "-2147483648",
    "4294967296",
    "9007199254740993",
    "1e400",
    "0x10",
    "1_000",
    "1,5",
    "1.2.3",
    "--1",
    "",
  ],
  ...["99999999999999999999999", "0.1", "1e6", "-1e-6", "86400", "253402300800", "true", "null"],
];
const EDGE_BYTES = [0, 1, 9, 10, 13, 27, 32, 34, 39, 44, 45, 46, 58, 59, 127, 128, 191, 192, 239, 254, 255];
const EDGE_WORDS = [0, 1, 0x7f, 0xff, 0x7fff, 0xffff, 0x7fffffff, 0x80000000, 0xffffffff, 36_000, 7680, 4320, 240];

const below = (random: RandomSource, count: number): number => Math.floor(random.uniform() * count);
const oneOf = <T>(random: RandomSource, list: readonly T[]): T => list[below(random, list.length)]!;
const joined = (...parts: readonly Uint8Array[]): Uint8Array => Uint8Array.from(Buffer.concat(parts));
const bytesOf = (text: string): Uint8Array => new TextEncoder().encode(text);

/** Two places in order, near each other more often than not. */
function span(input: Uint8Array, random: RandomSource): [number, number] {
  const from = below(random, input.length + 1);
  const length = Math.floor((input.length - from) * random.uniform() ** 4) + 1;
  return [from, Math.min(input.length, from + length)];
}

const flipBit: Mutation = (input, { random }) => {
  const result = Uint8Array.from(input);
  if (result.length > 0) result[below(random, result.length)]! ^= 1 << below(random, 8);
  return result;
};

const setByte: Mutation = (input, { random }) => {
  const result = Uint8Array.from(input);
  if (result.length > 0) result[below(random, result.length)] = oneOf(random, EDGE_BYTES);
  return result;
};

const setWord: Mutation = (input, { random }) => {
  const result = Uint8Array.from(input);
  if (result.length < 8) return result;
  const view = new DataView(result.buffer);
  const at = below(random, result.length - 7);
  const word = oneOf(random, EDGE_WORDS);
  if (random.uniform() < 0.5) view.setUint32(at, word, random.uniform() < 0.3);
  else view.setUint16(at, word & 0xffff, random.uniform() < 0.3);
  return result;
};

const cutOut: Mutation = (input, { random }) => {
  const [from, to] = span(input, random);
  return joined(input.subarray(0, from), input.subarray(to));
};

const cutShort: Mutation = (input, { random }) => input.slice(0, below(random, input.length + 1));

const putWord: Mutation = (input, { random, dictionary }) => {
  if (dictionary.length === 0) return input;
  const at = below(random, input.length + 1);
  return joined(input.subarray(0, at), bytesOf(oneOf(random, dictionary)), input.subarray(at));
};

const exchangeWord: Mutation = (input, { random, dictionary }) => {
  const text = Buffer.from(input).toString("latin1");
  const words = [...text.matchAll(/[A-Za-z_]{2,}/g)];
  if (words.length === 0 || dictionary.length === 0) return input;
  const { 0: word, index } = oneOf(random, words);
  return joined(input.subarray(0, index), bytesOf(oneOf(random, dictionary)), input.subarray(index + word.length));
};

const exchangeNumber: Mutation = (input, { random }) => {
  const text = Buffer.from(input).toString("latin1");
  const numbers = [...text.matchAll(/-?\d+(?:\.\d+)?/g)];
  if (numbers.length === 0) return input;
  const { 0: number, index } = oneOf(random, numbers);
  return joined(input.subarray(0, index), bytesOf(oneOf(random, EDGE_NUMBERS)), input.subarray(index + number.length));
};

const repeatPiece: Mutation = (input, { random, largestBytes }) => {
  const [from, to] = span(input, random);
  const piece = input.subarray(from, to);
  const most = Math.floor((largestBytes - input.length) / Math.max(1, piece.length));
  const times = Math.max(0, Math.min(most, Math.ceil(2 ** (random.uniform() * 14))));
  return joined(input.subarray(0, to), ...Array.from({ length: times }, () => piece), input.subarray(to));
};

const moveLine: Mutation = (input, { random }) => {
  const lines = Buffer.from(input).toString("latin1").split("\n");
  const [line] = lines.splice(below(random, lines.length), 1);
  lines.splice(below(random, lines.length + 1), 0, line!);
  return Uint8Array.from(Buffer.from(lines.join("\n"), "latin1"));
};

const splice: Mutation = (input, { random, other }) => {
  const [from, to] = span(other, random);
  const [at, until] = span(input, random);
  return joined(input.subarray(0, at), other.subarray(from, to), input.subarray(random.uniform() < 0.5 ? at : until));
};

const MUTATIONS: readonly Mutation[] = [
  flipBit,
  setByte,
  setWord,
  cutOut,
  cutShort,
  putWord,
  exchangeWord,
  exchangeNumber,
  exchangeNumber,
  repeatPiece,
  moveLine,
  splice,
];

/** The input changed in one to a dozen ways. */
export function mutated(input: Uint8Array, means: MutationMeans): Uint8Array {
  let result = input;
  do {
    result = oneOf(means.random, MUTATIONS)(result, means).slice(0, means.largestBytes);
  } while (means.random.uniform() < 0.6);
  return result;
}
