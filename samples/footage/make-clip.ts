import { randomSource } from "../simulator/random-source.js";
import { encodeClip } from "./clip-encoder.js";
import { angleOfVolts } from "./dial-style.js";
import type { FilmFaults } from "./film-faults.js";
import type { FootagePlan } from "./footage-plan.js";
import { frameTicks, TICKS_PER_S } from "./frame-times.js";
import { buildScene } from "./scene.js";
import { switchSound } from "./switch-sound.js";

/** What is true of a clip. */
export interface ClipTruth {
  readonly plan: FootagePlan;
  readonly timesS: readonly number[];
  /** Needle at mid exposure on the needle's row. */
  readonly volts: readonly number[];
  readonly anglesDeg: readonly number[];
  readonly switchings: readonly { readonly timeS: number; readonly action: "on" | "off"; readonly depthV: number }[];
  /** Places in the coded picture at the time of one frame. */
  readonly still: {
    readonly timeS: number;
    readonly pivot: { readonly x: number; readonly y: number };
    readonly needleTip: { readonly x: number; readonly y: number };
    readonly marks: readonly { readonly x: number; readonly y: number; readonly volts: number }[];
  };
}

/** Renders and encodes the clip of a plan into a file; the places of its truth are of the frame at `stillS`, else the middle. */
export async function makeClip(
  plan: FootagePlan,
  path: string,
  { faults = {}, stillS }: { readonly faults?: FilmFaults; readonly stillS?: number } = {},
): Promise<ClipTruth> {
  const scene = buildScene(plan, faults);
  const ticks = frameTicks(plan, randomSource(plan.seed + 2)).filter(
    (tick) => faults.isDropped?.(tick / TICKS_PER_S) !== true,
  );
  const luma = new Uint8Array(plan.width * plan.height);
  function* frames() {
    let lastShownS = Number.NaN;
    for (const tick of ticks) {
      const timeS = tick / TICKS_PER_S;
      // A frame that shows another's moment is that frame, with its noise.
      const shownS = faults.shownS?.(timeS) ?? timeS;
      if (shownS !== lastShownS) scene.render(timeS, luma);
      lastShownS = shownS;
      const bitsPerS = plan.container.bitsPerS * (faults.bits?.(timeS) ?? 1);
      yield { ticks: tick, luma, isKey: faults.isKey?.(timeS) === true, bitsPerS };
    }
  }
  await encodeClip(path, plan, frames(), plan.sound === null ? null : switchSound(plan, plan.sound));
  const after = stillS === undefined ? -1 : ticks.findIndex((tick) => tick / TICKS_PER_S >= stillS);
  return clipTruth(plan, ticks, scene, after < 0 ? Math.floor(ticks.length / 2) : after);
}

function clipTruth(
  plan: FootagePlan,
  ticks: readonly number[],
  scene: ReturnType<typeof buildScene>,
  still: number,
): ClipTruth {
  const timesS = ticks.map((tick) => tick / TICKS_PER_S);
  const truths = timesS.map((timeS) => scene.truth(timeS));
  const { angleDeg } = truths[still]!;
  const at = (deg: number, radius: number) => {
    const angle = (deg * Math.PI) / 180;
    return scene.place(timesS[still]!, radius * Math.cos(angle), radius * Math.sin(angle));
  };
  const { style } = scene;
  const markCount = Math.round(style.fullScaleV / style.majorV) + 1;
  return {
    plan,
    timesS,
    volts: truths.map((truth) => truth.volts),
    anglesDeg: truths.map((truth) => truth.angleDeg),
    switchings: plan.bus.dips.flatMap(({ onS, offS, depthV }) => [
      { timeS: onS, action: "on" as const, depthV },
      { timeS: offS, action: "off" as const, depthV },
    ]),
    still: {
      timeS: timesS[still]!,
      pivot: at(0, 0),
      needleTip: at(angleDeg, style.needleReach * plan.radiusPx),
      marks: Array.from({ length: markCount }, (_, k) => ({
        ...at(angleOfVolts(style, k * style.majorV), plan.radiusPx),
        volts: k * style.majorV,
      })),
    },
  };
}
