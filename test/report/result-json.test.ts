import { readFileSync } from "node:fs";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, it } from "vitest";
import { readResultJson, resultJsonSchema, resultSchema, toResultJson } from "../../src/report/index.js";
import { depthOnlyAnalysis, emptyAnalysis, everyFixture, ice2Analysis, ice2Context } from "./analysis-fixtures.js";

const published = new URL("../../src/report/busdip-result-1.schema.json", import.meta.url);

function everyNumber(data: unknown): number[] {
  if (typeof data === "number") return [data];
  return typeof data === "object" && data !== null ? Object.values(data).flatMap(everyNumber) : [];
}

describe("the published schema", () => {
  it("equals what the code checks by", () => {
    expect(JSON.parse(readFileSync(published, "utf8"))).toEqual(JSON.parse(JSON.stringify(resultJsonSchema())));
  });

  it.each(everyFixture)("accepts the result of %s by an independent validator", (_, analysis, context) => {
    const validate = new Ajv2020({ strict: false }).compile(JSON.parse(readFileSync(published, "utf8")));
    validate(JSON.parse(JSON.stringify(toResultJson(analysis, context))));
    expect(validate.errors).toBeNull();
    validate({ ...toResultJson(analysis, context), loads: [{ id: 7 }] });
    expect(validate.errors).not.toBeNull();
  });

  it("is open to further fields and requires those of the contract", () => {
    const schema = JSON.parse(readFileSync(published, "utf8"));
    expect(schema.additionalProperties).not.toBe(false);
    expect(schema.required).toEqual(
      expect.arrayContaining("recording noise detection dips loads battery assumptions cautions warnings".split(" ")),
    );
  });
});

describe("toResultJson()", () => {
  it.each(everyFixture)("of %s follows the schema and survives the way through text", (_, analysis, context) => {
    const result = toResultJson(analysis, context);
    expect(resultSchema.safeParse(result).error).toBeUndefined();
    expect(readResultJson(JSON.stringify(result))).toEqual({ ok: true, result });
    expect(everyNumber(result).every(Number.isFinite)).toBe(true);
  });

  it("carries the contract's fields under the contract's names", () => {
    const result = toResultJson(ice2Analysis, ice2Context);
    expect(result.recording).toMatchObject({
      source: "ice-2-ramp.csv",
      sha256: ice2Context.sha256,
      samples: 2720,
      duration_s: 140,
      sampleRate_Hz: 20,
      gaps: [{ start_s: 74, end_s: 78 }],
    });
    expect(result.noise).toEqual({ sigma_V: 0.0283, ar1: 0.34, quantum_V: 0.01 });
    expect(result.detection).toMatchObject({ falseAlarmRate: 0.01, power: 0.95, criticalDepth_V: 0.0232 });
    expect(result.loads[2]).toMatchObject({
      id: "stall-vane",
      verdict: "undecided",
      pValue: 0.081,
      switchings: 3,
      depth_V: 0.0312,
      u_V: 0.0117,
      expectedDepth_V: 0.0406,
      minimumDetectableDepth_V: 0.0617,
      moreSwitchings: 4,
      current_A: null,
    });
    expect(result.loads[0]!.current_A).toMatchObject({ value: 5.61, u: 0.41, low: 4.84, high: 6.49, coverage: 0.95 });
    expect(result.dips[0]).toMatchObject({ load: "landing-light", onset_s: 12.01, release_s: 17, current_A: null });
  });

  it("writes resistances in milliohms with the time after the step", () => {
    const { battery, dips } = toResultJson(ice2Analysis, ice2Context);
    expect(battery.resistance_mOhm).toMatchObject({ value: 21.1, low: 19.3, atSeconds: 1, route: "reference-load" });
    expect(battery.resistance_mOhm!.u).toBeCloseTo(0.98, 9);
    expect(dips[0]!.resistances_mOhm.map((one) => one.atSeconds)).toEqual([1, 5]);
  });

  it("gives every note its sentence beside its code", () => {
    const result = toResultJson(ice2Analysis, ice2Context);
    expect(result.cautions[0]).toMatchObject({ code: "advisory", text: expect.stringContaining("Advisory only") });
    expect(result.warnings[0]).toMatchObject({ code: "gap", startS: 74, text: expect.stringContaining("74 s") });
    expect(result.assumptions).toHaveLength(ice2Analysis.assumptions.length);
  });

  it.each([
    ["depth only", depthOnlyAnalysis],
    ["empty", emptyAnalysis],
  ])("of %s states in assumptions why each missing quantity is null", (_, analysis) => {
    const result = toResultJson(analysis, ice2Context);
    const reasons = result.assumptions.filter((note) => note.code === "not-identifiable").map((note) => note.what);
    expect(reasons).toEqual(
      expect.arrayContaining(["resistance", "internal-resistance", "open-circuit", "endurance", "normalized"]),
    );
    expect(new Set(result.assumptions.map((note) => note.text)).size).toBe(result.assumptions.length);
  });
});

describe("readResultJson()", () => {
  it("says what is wrong and how to mend it", () => {
    expect(readResultJson("voltage;1")).toEqual({
      ok: false,
      problem: "this is not JSON",
      remedy: "give the result.json that busdip wrote",
    });
    expect(readResultJson('{"schema":"other/2"}')).toMatchObject({
      ok: false,
      problem: 'expected "schema": "busdip-result/1", found "other/2"',
    });
    expect(readResultJson("null")).toMatchObject({ ok: false, problem: expect.stringContaining("found no schema") });
    const result = toResultJson(ice2Analysis, ice2Context);
    const broken = { ...result, dips: [{ ...result.dips[0]!, depth_V: "deep" }] };
    expect(readResultJson(JSON.stringify(broken))).toMatchObject({
      ok: false,
      problem: expect.stringContaining("at dips.0.depth_V"),
    });
  });

  it("keeps fields it does not know", () => {
    const result = { ...toResultJson(ice2Analysis, ice2Context), shopOrder: "4711" };
    expect(readResultJson(JSON.stringify(result))).toMatchObject({ ok: true, result: { shopOrder: "4711" } });
  });
});
