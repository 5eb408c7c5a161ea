import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { randomSource } from "../../samples/simulator/random-source.js";
import { mutated } from "./mutation.js";
import { checkFinite, checkSentence, refuseNaN } from "./oracle.js";
import { TARGETS, tryInput } from "./targets.js";

const corpus = new URL("corpus/", import.meta.url);
const folder = mkdtempSync(join(tmpdir(), "busdip-corpus-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const found = readdirSync(corpus).flatMap((target) =>
  readdirSync(new URL(`${target}/`, corpus)).map((name) => [target, name] as const),
);
/** Those that need no decoder, no process and little time. */
const QUICK = ["csv", "gzip", "profile", "marks", "sheet", "dial", "columns"];

async function replay(target: string, input: Uint8Array): Promise<string> {
  const path = join(folder, "input");
  writeFileSync(path, input);
  return await tryInput(await TARGETS[target]!(), input, path);
}

describe("what npm run fuzz found", () => {
  it("is kept for each kind of reader", () => {
    expect(found.length).toBeGreaterThanOrEqual(15);
  });

  it.each(found)(
    "%s: %s gives an answer or one sentence",
    async (target, name) => {
      await replay(target, readFileSync(new URL(`${target}/${name}`, corpus)));
    },
    10_000,
  );
});

describe("inputs changed at random", () => {
  it.each(QUICK)("%s: 60 of them give an answer or one sentence each", async (name) => {
    const target = await TARGETS[name]!();
    const seeds = await target.seeds();
    const random = randomSource(20);
    const pick = () => seeds[Math.floor(random.uniform() * seeds.length)]!;
    for (let k = 0; k < 60; k++) {
      const means = { random, dictionary: target.words, other: pick(), largestBytes: 20_000 };
      await replay(name, mutated(pick(), means));
    }
  });
});

describe("the oracle of npm run fuzz", () => {
  it.each([
    "log.csv: a word without a way out",
    "log.csv: one\nline more; mend it",
    "log.csv: the cell is undefined; mend it",
    "log.csv: \u001b[2J is no number; mend it",
  ])("refuses %j as a sentence", (sentence) => {
    expect(() => checkSentence(sentence)).toThrow();
  });

  it("refuses numbers that are none, wherever they stand", () => {
    expect(() => checkFinite({ deep: [{ series: Float64Array.of(1, Number.NaN) }] })).toThrow("series[1] is NaN");
    expect(() => checkFinite({ value: Number.POSITIVE_INFINITY })).toThrow("value is Infinity");
    expect(() => refuseNaN("depth NaN V")).toThrow("NaN");
    checkFinite({ value: 1, series: Float64Array.of(1), nothing: null });
  });
});
