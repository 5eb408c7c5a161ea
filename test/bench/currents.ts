/**
 * Do the intervals of resistance, current and depth hold the truth? `npm run bench:currents [recordings] [first seed] [routes]`
 *
 * Three loads switched three or four times each on one battery (`circuit.ts`), marks 0.1 s off; each route to a resistance by
 * itself: a clamp meter, a reference load whose rating is right to 5 %, battery and path known from before. What the
 * profile tells is drawn as uncertain as it says. Resistance: one second after the step. The target is 94 to 96 %.
 */
import { analyze, type BusProfile, type Quantity, type Unit } from "../../src/core/index.js";
import { type Circuit, circuitRecording } from "./circuit.js";
import { rateInterval } from "./distributions.js";
import { type RandomStream, randomStream } from "./random.js";
import { tellRatio } from "./ratio-line.js";

const ROUTES = ["clamp", "reference", "known"] as const;
type Route = (typeof ROUTES)[number];

const count = Number(process.argv[2] ?? 100);
const firstSeed = Number(process.argv[3] ?? 1);
const routes = (process.argv[4]?.split(",") as Route[] | undefined) ?? ROUTES;

console.log(`${count} recordings a route, seeds from ${firstSeed}; covered with limits of 95 % (Clopper and Pearson)`);
console.log("| route | figure | told | covered, % | error / u, RMS | mean error, % | mean u, % |");
console.log("|---|---|---|---|---|---|---|");
for (const route of routes) {
  if (!ROUTES.includes(route)) throw new Error(`no route ${route}: give some of ${ROUTES.join(", ")}`);
  const told = new Map<
    string,
    { readonly truth: number; readonly quantity: Quantity<Unit> | null; readonly seed: number }[]
  >();
  for (let seed = firstSeed; seed < firstSeed + count; seed++) {
    for (const [figure, truth, quantity] of trial(route, seed)) {
      told.set(figure, [...(told.get(figure) ?? []), { truth, quantity, seed }]);
    }
  }
  for (const [figure, all] of told) tell(route, figure, all);
}

type Figure = readonly [figure: string, truth: number, told: Quantity<Unit> | null];

function trial(route: Route, seed: number): Figure[] {
  const random = randomStream(seed, "currents", route);
  // What the profile tells of the battery and the path is as uncertain as it says.
  const batteryOhm = 0.0095 + 0.0005 * random.normal();
  const pathOhm = 0.003 + 0.0003 * random.normal();
  const polarization = random.between([0.15, 0.45]);
  const pairTimeS = random.between([8, 25]);
  const ohmicOhm = batteryOhm / (1 + polarization * -Math.expm1(-1 / pairTimeS));
  const circuit: Circuit = {
    restV: random.between([24.2, 25.2]),
    relaxationV: random.between([0, 0.3]),
    relaxationTimeS: random.between([60, 400]),
    ohmicOhm,
    pairOhm: polarization * ohmicOhm,
    pairTimeS,
    pathOhm,
    standingA: random.between([2, 6]),
    loads: switchedLoads(random),
  };
  const recording = circuitRecording(
    circuit,
    {
      durationS: Math.max(...circuit.loads.flatMap(({ switchings }) => switchings.flat())) + random.between([6, 15]),
      rateHz: random.between([8, 20]),
      lagS: random.between([0.1, 0.5]),
      noise: { whiteV: 0.008, colouredV: 0.006, colouredTimeS: 0.6, flickerVPerRtHz: 0, walkVPerRtS: 0.001 },
      clamp:
        route === "clamp"
          ? { rateHz: 5, gain: 1 + 0.01 * random.normal(), offsetA: random.between([-1, 1]), noiseA: 0.1 }
          : null,
    },
    random,
  );
  const marks = recording.marks.map((mark) => ({ ...mark, timeS: mark.timeS + 0.1 * random.normal() }));
  const { timesS, voltagesV, current } = recording;
  const analysis = analyze(
    { timesS, voltagesV, ...(current === null ? {} : { current }) },
    { profile: profileOf(route), marks },
  );
  const { source, internal } = analysis.battery;
  const share = (atS: number) => circuit.pairOhm * -Math.expm1(-atS / pairTimeS);
  return [
    ["source resistance", ohmicOhm + pathOhm + share(source?.atS ?? 1), source?.resistance ?? null],
    ["internal resistance", ohmicOhm + share(internal?.atS ?? 1), internal?.resistance ?? null],
    ...analysis.loads.flatMap((load): Figure[] => {
      const settledA = recording.settledA.get(load.id)!;
      return [
        [`current of ${load.id}`, settledA, load.current],
        [`depth of ${load.id}`, settledA * (ohmicOhm + pathOhm), load.depth],
      ];
    }),
  ];
}

/** One load after the other; each draws within some per cent of what it is rated for. */
function switchedLoads(random: RandomStream): Circuit["loads"] {
  let timeS = random.between([8, 15]);
  const switchings = () => {
    const times = Array.from({ length: random.integer([3, 4]) }, () => {
      const onS = timeS;
      const offS = onS + random.between([4, 7]);
      timeS = offS + random.between([4, 7]);
      return [onS, offS] as const;
    });
    timeS += 5;
    return times;
  };
  const within = (share: number) => 1 + share * (2 * random.uniform() - 1);
  return [
    { id: "light", kind: "resistive", hotOhm: 28 ** 2 / (250 * within(0.05)), switchings: switchings() },
    {
      id: "probe",
      kind: "heater",
      hotOhm: 28 ** 2 / (160 * within(0.15)),
      inrush: random.between([0.1, 0.9]),
      settleS: random.between([1.5, 4]),
      switchings: switchings(),
    },
    { id: "altimeter", kind: "constant-power", powerW: 90 * within(0.15), switchings: switchings() },
  ];
}

function profileOf(route: Route): BusProfile {
  const loads: BusProfile["loads"] = [
    {
      id: "light",
      kind: "resistive",
      reference: route === "reference",
      ...(route === "reference" ? { rated: { powerW: 250, atV: 28, toleranceFraction: 0.05 } } : {}),
    },
    { id: "probe", kind: "heater", reference: false },
    { id: "altimeter", kind: "constant-power", reference: false },
  ];
  return {
    battery: route === "known" ? { resistanceOhm: { value: 0.0095, u: 0.0005 } } : {},
    pathResistanceOhm: { value: 0.003, u: 0.0003 },
    loads,
  };
}

function tell(
  route: Route,
  figure: string,
  all: readonly { readonly truth: number; readonly quantity: Quantity<Unit> | null; readonly seed: number }[],
): void {
  const told = all.flatMap(({ quantity, truth, seed }) => (quantity === null ? [] : [{ quantity, truth, seed }]));
  if (told.length === 0) {
    console.log(`| ${route} | ${figure} | 0 of ${all.length} | | | | |`);
    return;
  }
  const held = told.filter(({ truth, quantity: { low, high } }) => truth >= low && truth <= high).length;
  const { low, high } = rateInterval(held, told.length);
  const mean = (of: (one: (typeof told)[number]) => number) =>
    told.reduce((sum, one) => sum + of(one), 0) / told.length;
  const scores = Math.sqrt(mean(({ truth, quantity }) => ((quantity.value - truth) / quantity.u) ** 2));
  const errorShare = mean(({ truth, quantity }) => (quantity.value - truth) / truth);
  const uShare = mean(({ truth, quantity }) => quantity.u / truth);
  const percent = (value: number) => (100 * value).toFixed(1);
  console.log(
    `| ${route} | ${figure} | ${told.length} of ${all.length} | ${percent(held / told.length)} [${percent(low)}, ${percent(high)}] | ${scores.toFixed(2)} | ${percent(errorShare)} | ${percent(uShare)} |`,
  );
  tellRatio({
    what: `${route}: ${figure} inside its interval`,
    measured: `${percent(held / told.length)} [${percent(low)}, ${percent(high)}] %`,
    reference: "stated, 95 %",
    ratio: held / told.length / 0.95,
    target: "94 to 96 %",
  });
}
