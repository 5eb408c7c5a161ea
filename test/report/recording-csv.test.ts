import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { importLogs } from "../../src/importers/csv/csv-importer.js";
import { readRecordingCsv, recordingCsv } from "../../src/report/recording-csv.js";

const volts = fc.double({ noNaN: true, noDefaultInfinity: true });
const uncertainty = fc.double({ noNaN: true, noDefaultInfinity: true, min: 1e-300, max: 1e3 });
const rising = (count: number) =>
  fc
    .array(fc.double({ min: 1e-6, max: 100, noNaN: true }), { minLength: count, maxLength: count })
    .map((steps) => Float64Array.from(steps, (_, i) => steps.slice(0, i + 1).reduce((a, b) => a + b, 0)));

const recordings = fc.integer({ min: 1, max: 20 }).chain((count) =>
  fc.record({
    timesS: rising(count),
    voltagesV: fc.array(volts, { minLength: count, maxLength: count }).map((all) => Float64Array.from(all)),
    uncertaintiesV: fc.option(
      fc.array(uncertainty, { minLength: count, maxLength: count }).map((all) => Float64Array.from(all)),
    ),
    asidesV: fc.option(fc.array(volts, { minLength: count, maxLength: count }).map((all) => Float64Array.from(all))),
    gainUncertainty: fc.option(fc.double({ min: 1e-6, max: 9, noNaN: true })),
    current: fc.option(
      fc.record({
        timesS: rising(5),
        currentsA: fc.array(volts, { minLength: 5, maxLength: 5 }).map((all) => Float64Array.from(all)),
      }),
    ),
  }),
);

describe("recordingCsv()", () => {
  it("reads back to the same doubles, uncertainties and currents with their readings", () => {
    fc.assert(
      fc.property(recordings, ({ timesS, voltagesV, uncertaintiesV, asidesV, current, gainUncertainty }) => {
        const recording = {
          timesS,
          voltagesV,
          ...(current === null ? {} : { current }),
          ...(uncertaintiesV === null ? {} : { readingUncertaintiesV: uncertaintiesV }),
          ...(asidesV === null ? {} : { asidesV }),
          ...(gainUncertainty === null ? {} : { gainUncertainty }),
        };
        expect(readRecordingCsv(recordingCsv(recording))).toEqual({ ok: true, recording });
      }),
    );
  });

  it("names its columns time_s,voltage_V,u_V for readings with uncertainties, as the importer reads them", async () => {
    const recording = {
      timesS: Float64Array.of(0, 0.1, 0.2),
      voltagesV: Float64Array.of(25.2, 25.1, 25.3),
      readingUncertaintiesV: Float64Array.of(0.021, 0.02, 0.033),
    };
    const text = recordingCsv(recording);
    expect(text).toBe("time_s,voltage_V,u_V\n0,25.2,0.021\n0.1,25.1,0.02\n0.2,25.3,0.033\n");
    const bytes = new TextEncoder().encode(text);
    const read = await importLogs([{ name: "a", size: null, open: () => [bytes] }], "voltage", {});
    expect(read.recording).toMatchObject(recording);
  });

  it("adds what each reading would change by if the needle lay aside as aside_V, as the importer reads it", async () => {
    const recording = {
      timesS: Float64Array.of(0, 0.1, 0.2),
      voltagesV: Float64Array.of(25.2, 25.1, 25.3),
      readingUncertaintiesV: Float64Array.of(0.021, 0.02, 0.033),
      asidesV: Float64Array.of(-0.004, 0, 0.011),
    };
    const text = recordingCsv(recording);
    expect(text).toBe("time_s,voltage_V,u_V,aside_V\n0,25.2,0.021,-0.004\n0.1,25.1,0.02,0\n0.2,25.3,0.033,0.011\n");
    const bytes = new TextEncoder().encode(text);
    const read = await importLogs([{ name: "a", size: null, open: () => [bytes] }], "voltage", {});
    expect(read.recording).toMatchObject(recording);
    expect(readRecordingCsv(text.replace("0.02,0\n", "0.02,\n"))).toMatchObject({ ok: false, line: 3 });
  });

  it("tells the gain that readings share in a line above them, as the importer reads it", async () => {
    const recording = {
      timesS: Float64Array.of(0, 0.1, 0.2),
      voltagesV: Float64Array.of(25.2, 25.1, 25.3),
      gainUncertainty: 0.004,
    };
    const text = recordingCsv(recording);
    expect(text).toBe("# gain_u: 0.004\ntime_s,voltage_V\n0,25.2\n0.1,25.1\n0.2,25.3\n");
    const bytes = new TextEncoder().encode(text);
    const read = await importLogs([{ name: "a", size: null, open: () => [bytes] }], "voltage", {});
    expect(read.recording).toMatchObject(recording);
    expect(readRecordingCsv(text.replace("0.004", "0.0040"))).toMatchObject({ ok: false, line: 1 });
    expect(readRecordingCsv(text.replace("time_s", "time"))).toMatchObject({ ok: false, line: 2 });
  });

  it("is not read where an uncertainty is missing or a column is misnamed", () => {
    expect(readRecordingCsv("time_s,voltage_V,u_V\n0,25.2,\n")).toMatchObject({ ok: false, line: 2 });
    expect(readRecordingCsv("time_s,u_V,voltage_V\n0,0.1,25.2\n")).toMatchObject({ ok: false, line: 1 });
  });
});
