import { createHash } from "node:crypto";
import type { BusProfile } from "../core/index.js";
import type { BatteryPlate, Estimated, EstimateEntry, History, RecordingEntry } from "../history/index.js";
import { InputError } from "../importers/input-error.js";
import type { ResultJson } from "../report/index.js";
import { withHistory } from "./history-store.js";

/** What the history must know of a recording beside its result. */
export interface RecordingOrigin {
  /** Seconds since 1970-01-01 UTC. */
  readonly atS: number;
  /** Else the battery that was installed in the aircraft at the time. */
  readonly battery?: string;
  readonly aircraft?: string;
  readonly bus?: string;
  readonly temperatureC?: number;
  /** 0 to 1. */
  readonly stateOfCharge?: number;
  readonly report?: string;
  readonly remark?: string;
  readonly plate?: BatteryPlate;
}

const MILLI = 1e-3;

/**
 * Adds one result to the history, in one transaction; a recording that is there already changes nothing.
 *
 * @returns whether it was added, and under which battery
 * @throws InputError where the history cannot be written or the battery is not known
 */
export function addAnalysisToStore(
  result: ResultJson,
  origin: RecordingOrigin,
  store: string | undefined,
): { readonly outcome: "added" | "there"; readonly battery: string; readonly place: string } {
  return withHistory(store, true, (history) => {
    const battery = origin.battery ?? installedBattery(history, origin);
    const outcome = history.add(recordingEntry(result, { ...origin, battery }), origin.plate ?? {});
    return { outcome, battery, place: history.place };
  });
}

/** What a profile tells of the battery and where it is installed. */
export function originFromProfile(profile: BusProfile | null): Partial<RecordingOrigin> {
  const battery = profile?.battery;
  return {
    ...(battery?.id === undefined ? {} : { battery: battery.id }),
    ...(profile?.aircraft === undefined ? {} : { aircraft: profile.aircraft }),
    ...(profile?.bus === undefined ? {} : { bus: profile.bus }),
    plate: {
      ...(battery?.chemistry === undefined ? {} : { chemistry: battery.chemistry }),
      ...(battery?.cells === undefined ? {} : { cells: battery.cells }),
      ...(battery?.capacityAh === undefined ? {} : { capacityAh: battery.capacityAh }),
    },
  };
}

function installedBattery(history: History, origin: RecordingOrigin): string {
  const day = new Date(1000 * origin.atS).toISOString().slice(0, 10);
  const there = history
    .installations()
    .filter((one) => one.aircraft === origin.aircraft && (origin.bus === undefined || one.bus === origin.bus))
    .filter((one) => one.installedOn <= day && (one.removedOn === null || day < one.removedOn));
  const batteries = [...new Set(there.map((one) => one.battery))];
  if (batteries.length === 1) return batteries[0];
  throw new InputError({
    problem:
      batteries.length === 0
        ? "it is not known which battery this was"
        : `${batteries.join(" and ")} were installed in ${origin.aircraft} that day`,
    remedy: "give --battery, or a profile that names it",
  });
}

/** A result of an analysis as the history keeps it. */
function recordingEntry(result: ResultJson, origin: RecordingOrigin & { readonly battery: string }): RecordingEntry {
  const { recording, battery, loads } = result;
  return {
    hash: recording.sha256 || contentHash(result),
    battery: origin.battery,
    aircraft: origin.aircraft ?? null,
    bus: origin.bus ?? null,
    atS: origin.atS,
    source: recording.source,
    sampleCount: recording.samples,
    durationS: recording.duration_s,
    sampleRateHz: recording.sampleRate_Hz,
    sigmaV: result.noise.sigma_V,
    temperatureC: origin.temperatureC ?? null,
    stateOfCharge: origin.stateOfCharge ?? null,
    requiredEnduranceMin: battery.requiredEndurance_min,
    report: origin.report ?? null,
    software: result.generator.version,
    remark: origin.remark ?? null,
    dips: result.dips.map((dip) => ({
      onsetS: dip.onset_s,
      releaseS: dip.release_s,
      depthV: dip.depth_V,
      uV: dip.u_V,
      load: dip.load,
    })),
    estimates: [
      estimate("source-resistance", battery.resistance_mOhm, MILLI),
      estimate("internal-resistance", battery.internal_mOhm, MILLI),
      estimate("normalized-resistance", battery.normalized_mOhm, MILLI),
      estimate("open-circuit", battery.openCircuit_V, 1),
      estimate("endurance", battery.endurance_min, 1),
      ...loads.map((load) => estimate("load-current", load.current_A, 1, load.id)),
    ].filter((each) => each !== null),
    answers: loads.map((load) => ({
      load: load.id,
      name: load.name,
      verdict: load.verdict,
      pValue: load.pValue,
      switchingCount: load.switchings,
    })),
    notes: [
      ...result.assumptions.map((note) => ({ kind: "assumption" as const, code: note.code, text: note.text })),
      ...result.warnings.map((note) => ({ kind: "warning" as const, code: note.code, text: note.text })),
    ],
  };
}

type Measured = NonNullable<ResultJson["battery"]["openCircuit_V"]> & { readonly atSeconds?: number };

function estimate(quantity: Estimated, measured: Measured | null, factor: number, load?: string): EstimateEntry | null {
  if (measured === null || !(measured.u > 0)) return null;
  return {
    quantity,
    load: load ?? null,
    afterS: measured.atSeconds ?? null,
    value: measured.value * factor,
    u: measured.u * factor,
    low: measured.low * factor,
    high: measured.high * factor,
    coverage: measured.coverage,
    route: measured.route,
  };
}

/** Stands in for the recording's own hash where the result has none; the same for the same findings. */
function contentHash({ generator: _, ...findings }: ResultJson): string {
  return createHash("sha256").update(JSON.stringify(findings)).digest("hex");
}
