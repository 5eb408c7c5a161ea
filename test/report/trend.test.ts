import { parse } from "node-html-parser";
import { describe, expect, it } from "vitest";
import { type FlightReading, judgeBattery, type LimitForecast } from "../../src/core/index.js";
import { svgFigure } from "../../src/report/figures/svg-figure.js";
import { trendChart } from "../../src/report/figures/trend-chart.js";
import type { BatteryStory, TrendContext } from "../../src/report/trend-context.js";
import { renderFleetReport, renderTrendReport } from "../../src/report/trend-html.js";
import { trendJson } from "../../src/report/trend-json.js";
import { alarmText, forecastText, levelText, questionText, slopeText } from "../../src/report/trend-messages.js";
import { letterPlot } from "../../src/report/trend-plot.js";
import { renderBatteryTrend, renderFleetTrend } from "../../src/report/trend-terminal.js";
import { flightSpan } from "../../src/report/trend-words.js";

const START_S = Date.UTC(2026, 0, 1, 12) / 1000;
const context: TrendContext = {
  store: "/data/history.db",
  madeAt: "2026-09-01T00:00:00.000Z",
  softwareVersion: "0.1.0",
  fleetKnown: false,
  reportHref: (reading) => reading.report,
};

/** A battery with the given resistances in milliohms, a flight every second day. */
function story(battery: string, milliohms: readonly number[]): BatteryStory {
  const readings = milliohms.map(
    (value, flight): FlightReading => ({
      atS: START_S + 172_800 * flight,
      value: 1e-3 * value,
      u: 5e-4,
      quantity: "internal-resistance",
      load: null,
      afterS: 1,
      hash: `${flight}`.padStart(64, "0"),
      report: flight % 2 === 0 ? `flights/${flight}/report.html` : null,
    }),
  );
  const trend = judgeBattery(battery, readings, { nowS: START_S + 172_800 * milliohms.length });
  return {
    ...trend,
    aircraft: "ICE-2",
    installedOn: "2026-01-01",
    retiredOn: null,
    flightCount: milliohms.length,
    normalization: null,
  };
}

const wobble = (flight: number) => 0.15 * Math.sin(5 * flight);
const ageing = story(
  "B-0417",
  Array.from({ length: 34 }, (_, flight) => 10 + wobble(flight) + 0.25 * Math.max(0, flight - 22)),
);
const exchanged = story(
  "B-0500",
  Array.from({ length: 30 }, (_, flight) => (flight < 26 ? 10 : 7.5) + wobble(flight)),
);
const young = story("B-0533", [9.1, 9.2, 9.0, 9.3, 8.9, 9.1]);
const main = ageing.series[0]!;

describe("trend in words", () => {
  it("alarmText() says what passed which limit, with which flight, and since when it moves", () => {
    expect(alarmText(main, main.judgement.alarms[0]!)).toMatch(
      /^The moving average of the internal resistance passed its control limit of 10\.\d mΩ with the flight of 2026-02-\d\d, and seems to have begun to rise with the flight of 2026-02-\d\d\.$/,
    );
  });

  it("levelText() gives level, change and baseline with their intervals", () => {
    expect(levelText(main)).toMatch(
      /^1\d\.\d+ ± \d\.\d+ mΩ now \(mean of the last 8 flights\), \+\d+ % \(\+\d+ to \+\d+ %\) against the baseline of (10\.0\d+|9\.9\d+) ± 0\.0\d+ mΩ$/,
    );
    expect(levelText(young.series[0]!)).toMatch(/; the baseline takes 20 flights, 14 more are needed$/);
  });

  it("slopeText() and forecastText() say what cannot be told yet, and what would tell it", () => {
    expect(slopeText(young.series[0]!)).toBe(
      "cannot tell yet: a steep one shows after 19 more flights, a slow one after about 74",
    );
    expect(forecastText(young.series[0]!)).toBe("the limit follows from the baseline, which is not complete");
    expect(forecastText(main)).toMatch(/^limit of 1[12](\.\d)? mΩ /);
  });

  it("slopeText() of few flights that rise all the same says so", () => {
    expect(slopeText(story("B-1", [9.9, 10.6, 11.3, 12.1, 12.9]).series[0]!)).toBe(
      "cannot tell yet: a steep one shows after 20 more flights, a slow one after about 75. So far they rise, from " +
        '9.90 ± 0.98 mΩ to 12.90 ± 0.98 mΩ (Mann-Kendall p = 0.027 if flights did not resemble each other); "cannot tell" does not mean steady',
    );
    expect(slopeText(story("B-1", [12.9, 12.1, 11.3, 10.6, 9.9]).series[0]!)).toContain(
      "So far they fall, from 12.90 ± ",
    );
    expect(slopeText(story("B-1", [9.9, 10.6, 11.3]).series[0]!)).not.toContain("So far");
    const stepped = Array.from({ length: 40 }, (_, flight) => (flight < 25 ? 8 : 12) + wobble(flight));
    expect(slopeText(story("B-1", stepped).series[0]!)).toMatch(
      /^cannot tell yet: about \d+ more flights would tell\. So far they rise, from /,
    );
  });

  it("forecastText() names no day before which the limit cannot be reached where flights were later", () => {
    const unknown = (notBefore: number) => {
      const forecast = { known: false, reason: "too-far-ahead", notBefore, moreFlights: null } as const;
      return forecastText({ ...main, judgement: { ...main.judgement, limit: 0.02, forecast } });
    };
    const lastAtS = START_S + 172_800 * 33;
    expect(unknown(lastAtS - 86_400)).toMatch(/: further ahead than these flights can tell$/);
    expect(unknown(lastAtS + 86_400)).toMatch(/: further ahead than these flights can tell, not before 2026-03-\d\d$/);
  });

  it("forecastText() says that a limit is reached, where no course up to it is left to forecast", () => {
    const limit = main.judgement.limit!;
    const beyond = (sure: boolean, forecast: LimitForecast | null) => {
      const alarms = [{ code: "limit-reached", limit, sure } as const];
      return forecastText({ ...main, judgement: { ...main.judgement, alarms, forecast } });
    };
    const noRise = { known: false, reason: "no-rise", notBefore: null, moreFlights: null } as const;
    expect(beyond(true, null)).toMatch(/^limit of 1[12](\.\d)? mΩ is reached by now$/);
    expect(beyond(true, noRise)).toMatch(/ is reached by now$/);
    expect(beyond(false, noRise)).toMatch(/ is probably reached by now$/);
  });

  it("forecastText() says where the newest flight lies beyond a limit that the mean of several has not reached", () => {
    const series = story("B-1", [9.9, 10.6, 11.3, 12.1, 12.9]).series[0]!;
    const held = (limit: number) => {
      const forecast = { known: false, reason: "too-few-flights", notBefore: null, moreFlights: 7 } as const;
      return forecastText({ ...series, judgement: { ...series.judgement, limit, forecast } });
    };
    expect(held(0.0125)).toMatch(/would tell; the newest flight, 12\.90 ± 0\.98 mΩ, may lie beyond it$/);
    expect(held(0.0118)).toMatch(/12\.90 ± 0\.98 mΩ, lies beyond it$/);
    expect(held(0.013)).toMatch(/would tell$/);
  });

  it("one flight is one flight", () => {
    const one = story("B-0601", [9.4]);
    expect(flightSpan(one)).toBe("1 flight, 2026-01-01 to 2026-01-01.");
    expect(flightSpan(young)).toMatch(/^6 flights, /);
  });

  it("questionText() asks about a change for the better and names the command that answers", () => {
    const series = exchanged.series[0]!;
    expect(questionText(series, series.judgement.questions[0]!, "B-0500")).toMatch(
      /^The internal resistance changed by −2\d % \(−\d+ to −\d+ %\) from the flight of 2026-02-2\d on: was the battery exchanged, or a terminal cleaned\? .*busdip history install B-0500 --new-life/,
    );
  });
});

describe("trend on a terminal", () => {
  const style = { columns: 80, colour: false, ascii: false };

  it("letterPlot() draws the last flight above the limit and the first on the baseline", () => {
    const lines = letterPlot(main, { columns: 60, rows: 9, ascii: true });
    expect(lines).toHaveLength(9);
    const column = (flight: number) => lines.findIndex((line) => line.split("|")[1]![flight] === "o");
    const limitRow = lines.findIndex((line) => line.includes("---"));
    expect(column(33)).toBe(0);
    expect(column(33)).toBeLessThan(limitRow);
    expect(column(3)).toBeGreaterThanOrEqual(limitRow);
  });

  it("renderBatteryTrend() keeps to the width and names status, cause and caution", () => {
    for (const columns of [60, 80, 100]) {
      const text = renderBatteryTrend(ageing, context, { ...style, columns });
      expect(Math.max(...text.split("\n").map((line) => line.length))).toBeLessThanOrEqual(columns);
      expect(text).toContain("ALARM");
      expect(text).toContain("Advisory only");
    }
  });

  it("renderFleetTrend() has a line for each battery and a sentence for those that ask for attention", () => {
    const text = renderFleetTrend([ageing, exchanged, young], context, style);
    expect(text).toMatch(/^3 batteries in \/data\/history\.db, most concern first/);
    expect(text).toMatch(/B-0417 +alarm +34 +2026-03-08/);
    expect(text).toMatch(/B-0500 +question/);
    expect(text).toMatch(/B-0533 +too early +6/);
  });
});

describe("trend as a page", () => {
  const page = parse(renderTrendReport(ageing, { ...context, plotlySource: "window.Plotly = {};" }));

  it("renderTrendReport() opens each flight's own report", () => {
    const links = page.querySelectorAll("#flights-1 a").map((link) => link.getAttribute("href"));
    expect(links).toHaveLength(17);
    expect(links[1]).toBe("flights/2/report.html");
  });

  it("renderTrendReport() shows answer, cautions, chart, judgement and flights, each heading once", () => {
    expect(page.querySelectorAll("main section").map((section) => section.id)).toEqual([
      "answer",
      "cautions",
      "figures",
      "judgement",
      "flights-1",
    ]);
    expect(page.querySelector(".headline")!.text).toContain("passed its control limit");
    expect(page.querySelectorAll("#flights-1 tbody tr")).toHaveLength(34);
    const text = page.querySelector("#judgement")!.text;
    for (const fact of ["Status", "Level", "Slope", "Forecast", "at most 18 are called"]) expect(text).toContain(fact);
  });

  it("renderTrendReport() lets no name of a battery into the page's code", () => {
    const hostile = { ...ageing, battery: `<script>alert(1)</script>"` };
    const html = renderTrendReport(hostile, { ...context, plotlySource: "" });
    expect(html.includes("<script>alert(1)")).toBe(false);
  });

  it("renderFleetReport() ranks all batteries and draws those that ask for attention", () => {
    const fleet = parse(renderFleetReport([ageing, exchanged, young], { ...context, plotlySource: "" }));
    expect(fleet.querySelector(".headline")!.text).toBe(
      "An alarm stands for 1 of 3 batteries; one question asks for an answer.",
    );
    expect(fleet.querySelectorAll("figure")).toHaveLength(2);
    expect(fleet.querySelectorAll("#fleet tbody th").map((cell) => cell.text)).toEqual(["B-0417", "B-0500", "B-0533"]);
  });

  it("trendChart() draws every flight with its interval, the limits, and tells the same as a table and in words", () => {
    const figure = trendChart(main, "trend-1");
    const points = figure.cells[0]!.panels[0]!.layers.find((layer) => layer.kind === "points")!;
    expect(points.kind === "points" && points.x).toHaveLength(34);
    expect(figure.table.rows).toHaveLength(34);
    expect(figure.alt).toMatch(/^34 flights from 2026-01-01 to 2026-03-08: /);
    const svg = svgFigure(figure, { standalone: true });
    expect(svg.includes("NaN")).toBe(false);
    expect(svg.includes("undefined")).toBe(false);
  });
});

describe("trendJson", () => {
  it("trendJson() gives milliohms, one point per flight, and a text for every alarm", () => {
    const [battery] = trendJson([ageing], context).batteries;
    const [series] = battery!.series;
    expect(series!.unit).toBe("mOhm");
    expect(series!.points[0]!.value).toBeCloseTo(10, 9);
    expect(series!.points).toHaveLength(34);
    expect(series!.points[19]!.average).toBeNull();
    expect(series!.points[20]!.average).not.toBeNull();
    expect(series!.alarms.every((alarm) => alarm.text.length > 20)).toBe(true);
    expect(JSON.parse(JSON.stringify(battery))).toEqual(battery);
  });
});
