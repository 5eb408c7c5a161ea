/**
 * A dip of 0.3 V on dials with more print than a scale, true marks but for ordinary clicks: `npx tsx
 * test/bench/video/prints.ts`. What the dip comes out at, against the gain's stated uncertainty, and the offset against its.
 */
import { findDial, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "../../importers/video/render/clip.js";
import { type DialStyle, trueAngle } from "../../importers/video/render/face.js";
import { arcPrint, innerScale, prints, radialPrint } from "../../importers/video/render/prints.js";
import { normalDeviates } from "../../importers/video/render/random.js";
import { noClickFilming } from "./no-click-trial.js";

const DIP_V = 0.3;
const LIGHT: DialStyle = { startDeg: -45, sweepDeg: 90, fullScaleV: 30, divisionV: 1, majorV: 5, bezel: "round" };
const DARK: DialStyle = { ...LIGHT, lightOnDark: true, needle: "bar" };
const WIDE: DialStyle = { ...DARK, startDeg: -120, sweepDeg: 240, needle: "taper", tail: 0.2 };

for (const [name, style] of [
  ["light, 90 degrees", LIGHT],
  ["dark, 90 degrees", DARK],
  ["dark, 240 degrees", WIDE],
] as const) {
  for (const [what, change] of Object.entries(changes(style))) {
    const tries: string[] = [];
    for (const seed of [3, 4]) tries.push(await trial({ ...style, ...change }, seed));
    process.stdout.write(`${name}, ${what}: ${tries.join("; ")}\n`);
  }
}

function changes(style: DialStyle): Record<string, Partial<DialStyle>> {
  const isDark = style.lightOnDark === true;
  const [red, green, ink] = isDark ? [90, 110, 205] : [100, 120, 40];
  return {
    "nothing more": {},
    "three coloured bands": {
      print: prints(
        arcPrint(style, [22, 28], [0.85, 0.985], green),
        arcPrint(style, [0, 20], [0.85, 0.985], 70),
        arcPrint(style, [20, 22], [0.85, 0.985], 170),
      ),
    },
    "an edge of a band under the tip": { print: arcPrint(style, [24.5, 28], [0.85, 0.985], green) },
    "radials at 20 and 29 V": {
      print: prints(radialPrint(style, 20, [0.75, 1.1], red), radialPrint(style, 29, [0.75, 1.1], red)),
    },
    "a radial at 25.4 V": { print: radialPrint(style, 25.4, [0.7, 1], red) },
    "a second scale inside": { print: innerScale(style, 40, ink) },
    "a needle of 0.7 radii": { needleLength: 0.7 },
    "a needle seen from 0.45 radii": { cover: 0.45 },
    "a faint needle": { needleLevel: isDark ? 95 : 140 },
    "an edge all along the needle": { print: arcPrint(style, [24, 30], [0.3, 0.98], isDark ? 80 : 150) },
  };
}

async function trial(style: DialStyle, seed: number): Promise<string> {
  const volts = (timeS: number) => (timeS < 0.6 ? 24.6 : 24.6 - DIP_V);
  const clip = renderedClip(style, {
    ...noClickFilming(style, seed),
    frameCount: 36,
    shakePx: 3,
    parallax: 0.004,
    volts,
  });
  const click = normalDeviates(seed);
  const { x, y } = clip.place(0, 0, 0);
  const marks = [0, 10, 20, 30].map((mark) => {
    const place = clip.place(0, 1, trueAngle(style, mark));
    return { volts: mark, x: place.x + click(), y: place.y + click() };
  });
  const still = { timeS: 0, width: clip.width, height: clip.height };
  const dial = await findDial(clip, { dial: { still, pivot: { x: x + 3 * click(), y: y + 3 * click() }, marks } });
  if (dial.kind === "question") return dial.code;
  const { timesS, voltagesV, offsetUncertaintyV, gainUncertainty } = await readNeedle(clip, dial);
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  const level = (isDip: boolean) => mean([...voltagesV].filter((_, at) => timesS[at]! > 0.59 === isDip));
  const offsetV = mean([...voltagesV].map((value, at) => value - volts(timesS[at]!)));
  const dip = (level(false) - level(true)) / DIP_V;
  return `dip ${dip.toFixed(3)} (u ${gainUncertainty.toFixed(3)}), offset ${offsetV.toFixed(3)} V (u ${offsetUncertaintyV.toFixed(3)})`;
}
