import { describe, expect, it } from "vitest";
import { dayNumber } from "../../../src/importers/csv/calendar.js";
import { importLogs } from "../../../src/importers/csv/csv-importer.js";
import type { LogOptions } from "../../../src/importers/csv/log-options.js";

/** The moments of the two readings of a log with those stamps, s since the epoch. */
async function moments(first: string, second: string, options: LogOptions = {}): Promise<number[]> {
  const bytes = Buffer.from(`timestamp;voltage_V\n${first};27.3\n${second};27.2\n`);
  const { recording, startEpochS } = await importLogs(
    [{ name: "log.csv", size: bytes.length, open: () => [bytes] }],
    "voltage",
    options,
  );
  return Array.from(recording!.timesS, (time) => startEpochS! + time);
}

describe("times of RFC 3339", () => {
  // RFC 3339 (2002), 5.8 "Examples", as printed; seconds since the epoch by Python's datetime.
  it.each([
    ["1985-04-12T23:20:50.52Z", 482_196_050.52],
    ["1996-12-19T16:39:57-08:00", 851_042_397],
    ["1996-12-20T00:39:57Z", 851_042_397],
    ["1937-01-01T12:00:27.87+00:20", -1_041_337_172.13],
  ])("importLogs() reads %s as %d s since the epoch", async (stamp, epochS) => {
    const [first] = await moments(stamp, "2100-01-01T00:00:00Z");
    expect(first).toBeCloseTo(epochS, 5);
  });

  it("importLogs() reads the leap second 1990-12-31T23:59:60Z alike in the zone of 15:59:60-08:00", async () => {
    // RFC 3339, 5.8; POSIX.1-2017, 4.16, gives it the number of the second after it.
    expect(await moments("1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00")).toEqual([662_688_000, 662_688_000]);
  });
});

describe("dates of ISO 8601", () => {
  // ISO 8601:2004, 4.1.2 to 4.1.4: the same day, 12 April 1985, in its six complete forms; from memory.
  it.each(["1985-04-12", "19850412", "1985-102", "1985102", "1985-W15-5", "1985W155"])(
    "importLogs() reads %sT23:20:30Z as the 12 April 1985",
    async (date) => {
      const [first] = await moments(`${date}T23:20:30Z`, "2100-01-01T00:00:00Z");
      expect(new Date(first! * 1000).toISOString()).toBe("1985-04-12T23:20:30.000Z");
    },
  );

  it("importLogs() reads the basic and the extended form of a time alike", async () => {
    // ISO 8601:2004, 4.3.2; from memory.
    expect(await moments("19850412T101530+0400", "1985-04-12T10:15:30+04:00")).toEqual([482_134_530, 482_134_530]);
  });

  it("importLogs() reads 24:00 of one day as 00:00 of the next", async () => {
    // ISO 8601:2004, 4.2.3; from memory.
    const [first, second] = await moments("1985-04-12T24:00:00Z", "1985-04-13T00:00:00Z");
    expect(first).toBe(second);
  });

  it.each(["1900-02-29", "2023-02-29", "2100-02-29"])("importLogs() refuses %s, no leap year", async (date) => {
    // ISO 8601:2004, 3.2.1: years divisible by 100 are leap years only if divisible by 400.
    await expect(moments("2000-02-29T00:00:00Z", `${date}T00:00:00Z`)).rejects.toThrow("which is none");
  });
});

describe("seconds since the epoch of POSIX", () => {
  it("dayNumber() follows the expression of POSIX.1-2017, 4.16, on every day from 1970 to 2099", () => {
    for (let year = 1970; year < 2100; year += 1) {
      let dayOfYear = 0;
      for (let month = 1; month <= 12; month += 1) {
        for (let day = 1; dayNumber(year, month, day) !== null; day += 1) {
          const tmYear = year - 1900;
          // Integer divisions, as the standard has it.
          const days =
            dayOfYear +
            (tmYear - 70) * 365 +
            Math.floor((tmYear - 69) / 4) -
            Math.floor((tmYear - 1) / 100) +
            Math.floor((tmYear + 299) / 400);
          expect(dayNumber(year, month, day)).toBe(days);
          dayOfYear += 1;
        }
      }
      expect([365, 366]).toContain(dayOfYear);
    }
  });

  it("importLogs() reads the last second of a 32-bit counter as 2038-01-19T03:14:07Z", async () => {
    // POSIX.1-2017, A.4.16; from memory.
    expect(await moments("2147483647", "2147483648", { timeFormat: "epoch" })).toEqual([2_147_483_647, 2_147_483_648]);
    expect(await moments("2038-01-19T03:14:07Z", "2038-01-19T03:14:08Z")).toEqual([2_147_483_647, 2_147_483_648]);
  });

  it.each([
    ["s", 1],
    ["ms", 1e3],
    ["us", 1e6],
  ])("importLogs() tells an epoch time in %s by its size", async (_unit, perSecond) => {
    const stamps = [1_000_000_000, 1_000_000_001].map((second) => String(second * perSecond));
    expect(await moments(stamps[0]!, stamps[1]!)).toEqual([1_000_000_000, 1_000_000_001]);
    // 10^9 s is 2001-09-09T01:46:40Z; from memory.
    expect(await moments("2001-09-09T01:46:40Z", "2001-09-09T01:46:41Z")).toEqual([1_000_000_000, 1_000_000_001]);
  });

  it("importLogs() puts the end of summer time where EST5EDT,M3.2.0,M11.1.0 puts it", async () => {
    // The rule for the Eastern time of the USA as POSIX.1-2017, 8.3, writes such rules: first Sunday of November, 02:00.
    const [before, after] = await moments("2026-11-01 01:59:59", "2026-11-01 02:00:00", { zone: "America/New_York" });
    expect(before).toBe(Date.UTC(2026, 10, 1, 5, 59, 59) / 1000);
    expect(after).toBe(Date.UTC(2026, 10, 1, 7, 0, 0) / 1000);
  });
});
