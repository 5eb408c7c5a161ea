import type { BusPlan } from "./footage-plan.js";
import { tabulated, type Unsteady } from "./unsteady.js";

/** The bus voltage before the meter, V. */
export function busVolts(bus: BusPlan, timeS: number): number {
  if (bus.powerUpS !== undefined && timeS < bus.powerUpS) return 0;
  const depthV = bus.dips.reduce((sum, dip) => sum + (timeS >= dip.onS && timeS < dip.offS ? dip.depthV : 0), 0);
  return bus.openCircuitV + bus.slopeVPerS * timeS - depthV;
}

/** What the needle shows: the bus voltage through a second-order movement, V. */
export function needleVolts(bus: BusPlan, durationS: number): Unsteady {
  const stepS = 0.0005;
  const omega = 2 * Math.PI * bus.needleHz;
  const startS = -2;
  const count = Math.ceil((durationS + 4) / stepS);
  const shown = new Float64Array(count);
  let level = busVolts(bus, startS);
  let speed = 0;
  for (let k = 0; k < count; k++) {
    const pull = omega * omega * (busVolts(bus, startS + k * stepS) - level) - 2 * bus.needleDamping * omega * speed;
    speed += stepS * pull;
    level += stepS * speed;
    if (level < 0) [level, speed] = [0, 0];
    shown[k] = level;
  }
  return tabulated(
    durationS,
    (timeS) => shown[Math.max(0, Math.min(count - 1, Math.round((timeS - startS) / stepS)))]!,
  );
}
