/** Writes the simulated history of ICE-2 beside this file: `npx tsx samples/history/make.ts`. */
import { writeFileSync } from "node:fs";
import { flightsOf } from "./flights.js";

/** B-0417 holds for twenty flights, then its resistance climbs; on flight 24 a terminal was loose. */
const ageing = flightsOf(
  {
    battery: "B-0417",
    flightCount: 30,
    from: "2026-03-05",
    resistanceOhm: (flight) => 0.0095 * Math.exp(0.001 * flight + 0.016 * Math.max(0, flight - 20)),
    terminalOhm: (flight) => (flight === 24 ? 0.008 : 0),
    remark: (flight) => (flight === 24 ? "negative terminal found loose after the flight, tightened" : null),
    enduranceMin: (flight) => 52 - 0.1 * flight - 0.8 * Math.max(0, flight - 20),
    withoutTemperature: [6, 15],
  },
  20260305,
);
const replacement = flightsOf(
  {
    battery: "B-0533",
    flightCount: 9,
    from: "2026-07-30",
    resistanceOhm: () => 0.0088,
    terminalOhm: () => 0,
    remark: () => null,
    enduranceMin: () => 54,
    withoutTemperature: [],
  },
  20260730,
);

/** The exchange file of the simulated history. */
export const simulatedHistory = {
  schema: "busdip-history/1",
  about: "Simulated: ICE-2, its batteries and every number here are invented.",
  batteries: [
    { id: "B-0417", chemistry: "lead-acid", cells: 12, capacityAh: 44 },
    { id: "B-0533", chemistry: "lead-acid", cells: 12, capacityAh: 44 },
  ],
  installations: [
    { battery: "B-0417", aircraft: "ICE-2", bus: "essential", installedOn: "2026-03-02", removedOn: "2026-07-27" },
    { battery: "B-0533", aircraft: "ICE-2", bus: "essential", installedOn: "2026-07-27" },
  ],
  recordings: [...ageing, ...replacement],
};

/** The file's text. */
export const historyText = `${JSON.stringify(simulatedHistory, null, 2)}\n`;

if (process.argv[1]?.endsWith("make.ts")) {
  writeFileSync(new URL("ice-2-history.json", import.meta.url), historyText);
}
