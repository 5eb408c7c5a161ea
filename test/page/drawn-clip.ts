import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import type { BrowserContext } from "playwright-core";

/** The drawn dial, pixels, whole numbers at their middles: 0 V and 30 V lie 60 degrees to either side of upright. */
export const DRAWN_DIAL = {
  width: 640,
  height: 480,
  pivot: { x: 320, y: 340 },
  radiusPx: 230,
  fullScaleV: 30,
  rate: 12,
  durationS: 18,
  onTimesS: [
    [4, 6],
    [8, 10],
    [12, 14],
  ],
  restV: 24.6,
  depthV: 0.45,
} as const;

/** Where the scale line meets the mark of so many volts. */
export function markPlace(volts: number): { readonly x: number; readonly y: number } {
  const { pivot, radiusPx, fullScaleV } = DRAWN_DIAL;
  const angleRad = ((-150 + (120 * volts) / fullScaleV) * Math.PI) / 180;
  return { x: pivot.x + radiusPx * Math.cos(angleRad), y: pivot.y + radiusPx * Math.sin(angleRad) };
}

/** Volts that the drawn needle shows at a time: it follows each switching with a lag of 0.2 s. */
export function drawnVolts(timeS: number): number {
  const { onTimesS, restV, depthV } = DRAWN_DIAL;
  const settled = (sinceS: number) => (sinceS <= 0 ? 0 : 1 - Math.exp(-sinceS / 0.2));
  const share = onTimesS.reduce((sum, [onS, offS]) => sum + settled(timeS - onS) - settled(timeS - offS), 0);
  return restV - depthV * share;
}

/** A clip of the drawn dial in a hand that is not quite still, made by the browser's own encoder: WebM, VP8. */
export async function drawnClip(context: BrowserContext): Promise<Uint8Array> {
  const library = createRequire(import.meta.url)
    .resolve("mediabunny")
    .replace(/dist\/.*$/, "dist/bundles/mediabunny.min.mjs");
  const source = readFileSync(library, "utf8");
  const page = await context.newPage();
  await page.route("https://drawn.test/**", (route) =>
    route.request().url().endsWith(".mjs")
      ? route.fulfill({ contentType: "text/javascript", body: source })
      : route.fulfill({ contentType: "text/html", body: "<!DOCTYPE html>" }),
  );
  await page.goto("https://drawn.test/");
  const { rate, durationS } = DRAWN_DIAL;
  const volts = Array.from({ length: rate * durationS }, (_, i) => drawnVolts(i / rate));
  const base64 = (await page.evaluate(`(${draw})(${JSON.stringify({ ...DRAWN_DIAL, volts })})`)) as string;
  await page.close();
  return Buffer.from(base64, "base64");
}

/** Runs in the browser; plain text, because it is no module of this program. */
const draw = `async (dial) => {
  const { Output, WebMOutputFormat, BufferTarget, CanvasSource } = await import("https://drawn.test/library.mjs");
  const canvas = new OffscreenCanvas(dial.width, dial.height);
  const pen = canvas.getContext("2d");
  const output = new Output({ format: new WebMOutputFormat(), target: new BufferTarget() });
  const film = new CanvasSource(canvas, { codec: "vp8", bitrate: 3e5 });
  output.addVideoTrack(film, { frameRate: dial.rate });
  await output.start();
  const rad = (volts) => (-150 + (120 * volts) / dial.fullScaleV) * Math.PI / 180;
  const { pivot, radiusPx } = dial;
  for (let i = 0; i < dial.volts.length; i++) {
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = "#3a3f45";
    pen.fillRect(0, 0, dial.width, dial.height);
    pen.setTransform(1, 0, 0, 1, 0.5 + 2 * Math.sin(i / 7), 0.5 + 1.5 * Math.sin(i / 11));
    pen.fillStyle = "#efece2";
    pen.beginPath(); pen.arc(pivot.x, pivot.y - 40, 270, 0, 7); pen.fill();
    pen.strokeStyle = "#15181c"; pen.fillStyle = "#15181c"; pen.font = "bold 22px sans-serif"; pen.textAlign = "center";
    for (let volts = 0; volts <= dial.fullScaleV; volts++) {
      const long = volts % 5 === 0, a = rad(volts), c = Math.cos(a), s = Math.sin(a), out = radiusPx + (long ? 24 : 12);
      pen.lineWidth = long ? 4 : 2;
      pen.beginPath(); pen.moveTo(pivot.x + radiusPx * c, pivot.y + radiusPx * s); pen.lineTo(pivot.x + out * c, pivot.y + out * s); pen.stroke();
      if (long) pen.fillText(volts, pivot.x + (radiusPx + 42) * c, pivot.y + (radiusPx + 42) * s + 8);
    }
    pen.lineWidth = 1.5;
    pen.beginPath(); pen.arc(pivot.x, pivot.y, radiusPx, rad(0), rad(dial.fullScaleV)); pen.stroke();
    const a = rad(dial.volts[i]);
    pen.lineWidth = 5; pen.lineCap = "butt";
    pen.beginPath(); pen.moveTo(pivot.x, pivot.y); pen.lineTo(pivot.x + (radiusPx - 14) * Math.cos(a), pivot.y + (radiusPx - 14) * Math.sin(a)); pen.stroke();
    pen.beginPath(); pen.arc(pivot.x, pivot.y, 16, 0, 7); pen.fill();
    await film.add(i / dial.rate, 1 / dial.rate);
  }
  await output.finalize();
  const bytes = new Uint8Array(output.target.buffer);
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return btoa(text);
}`;
