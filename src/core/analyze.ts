import type { Analysis } from "./analysis.js";
import { type AnalyzeOptions, checkOptions } from "./analyze-options.js";
import { batteryAnswer } from "./battery/battery-answer.js";
import { baseCurrent } from "./battery/bus-current.js";
import { polarization } from "./battery/polarization.js";
import { cautionsFor } from "./cautions.js";
import { detectInWindows, quietLevel } from "./detection/detect-in-windows.js";
import { levelMoves } from "./detection/level-moves.js";
import { findSwitching } from "./detection/switching.js";
import { NO_UNMARKED, unmarkedDips, warningsOf } from "./detection/unmarked-dips.js";
import { measuredSteps } from "./estimation/dip-resistances.js";
import { lowestResistanceOhm, resistanceDoubt } from "./estimation/resistance-doubt.js";
import { sourceResistance } from "./estimation/source-from-recording.js";
import { growthToStatedTime } from "./estimation/stated-time.js";
import { twoCurrentFigures } from "./estimation/two-current-figures.js";
import { recordingFacts } from "./recording-facts.js";
import { copyNote, withoutCopies } from "./series/held-readings.js";
import { heldWarning, withoutHeld } from "./series/held-stretches.js";
import type { Recording } from "./series/recording.js";
import { unpoweredWarning, withoutUnpowered } from "./series/unpowered.js";
import { randomGenerator } from "./statistics/random.js";
import { answerLoads, judgeResponses } from "./verdict/answer-loads.js";
import { asideDoubtsV } from "./verdict/aside-doubt.js";
import { gatherCurves } from "./verdict/gather-curves.js";
import { gatherDips } from "./verdict/gather-dips.js";
import { areItsOwn, isClear } from "./verdict/judged-response.js";
import { rankUntold } from "./verdict/load-ranking.js";
import { figuresUnderGain, polarizationUnderGain } from "./verdict/shared-doubt.js";
import { rankSharers } from "./verdict/sharers-ranking.js";
import { withMeasurement } from "./verdict/with-measurement.js";

/**
 * The whole job: judges every load of a recording and estimates depths, currents and resistances.
 *
 * Pure: the same recording and options give the same analysis. SI units throughout. Source: ISO 11843-1 (verdicts),
 * JCGM 100 and 101 (uncertainties), IEC 61000-4-30 (dips); each part names its own.
 *
 * @throws RangeError when the recording has fewer than two readings, times that go back, or readings that are not finite,
 *   and for options that mean nothing.
 */
export function analyze(asRead: Recording, options: AnalyzeOptions = {}): Analysis {
  checkOptions(options);
  const profile = options.profile ?? null;
  const falseAlarmRate = options.falseAlarmRate ?? 0.01;
  const power = options.power ?? 0.95;
  const random = randomGenerator(options.seed ?? 1);

  // What kind of recording this is.
  const { recording: powered, unpowered } = withoutUnpowered(asRead);
  const facts = recordingFacts(powered, profile);
  const gainUncertainty = asRead.gainUncertainty ?? 0;
  const { recording: renewed, copies } = withoutCopies(powered);
  const { recording, held } = withoutHeld(renewed, facts.meterEndV);

  // When the loads were switched: marked, measured, or searched for.
  const switching = findSwitching(recording, {
    ...options,
    profile,
    displayStepV: facts.displayStepV,
    falseAlarmRate,
    power,
    random,
  });

  // How the voltage answered at those times.
  const detected = detectInWindows(recording, switching, {
    meter: profile?.meter,
    displayStepV: facts.displayStepV,
    ownNoiseV: facts.ownNoiseV,
    random,
  });
  const steps = measuredSteps(recording, profile?.meter?.lagS, switching.dischargeSign);
  const judged = judgeResponses(detected, switching, {
    falseAlarmRate,
    power,
    displayStepV: facts.displayStepV,
    ownNoiseV: facts.ownNoiseV,
    frictionV: profile?.meter?.frictionV ?? 0,
    gainUncertainty,
    recording,
    asidesV: asideDoubtsV(recording, switching, profile?.meter, random),
  }).map((one) => withMeasurement(one, recording, steps));

  // What that means in milliohms, and so in amperes.
  const estimated = judged.map((one) => ({
    id: one.response.id,
    responded: one.pValue <= falseAlarmRate && one.depth.value > 0 && areItsOwn(one) && facts.meterEndV === null,
    depth: one.depth,
    busV: { value: one.dips[0]?.referenceV ?? facts.summary.highestV, u: one.depth.u },
    measuredA: one.measuredA,
    growth: growthToStatedTime(one.response.shape),
  }));
  const source = sourceResistance(estimated, profile, gainUncertainty);
  const doubt = resistanceDoubt(source, profile);
  // A clamp that reads wrong takes one load for another where nothing but the current tells them.
  const loadsUntold = doubt !== null && switching.mode === "current";

  // Whether dips stand where nobody marked any, before a missing response, or a faint one, is believed.
  const silent = new Set(judged.filter((one) => one.pValue > falseAlarmRate).map((one) => one.response.id));
  const open = new Set(judged.filter((one) => !isClear(one)).map((one) => one.response.id));
  const beside = { isOpen: (id: string) => open.has(id), responded: (id: string) => !silent.has(id) };
  const unmarked =
    switching.mode === "marked"
      ? unmarkedDips(recording, detected.windows, beside, {
          falseAlarmRate,
          power,
          lagS: profile?.meter?.lagS,
          displayStepV: facts.displayStepV,
          random,
        })
      : NO_UNMARKED;

  // What can be said of each load, and of the battery.
  const told = loadsUntold ? judged.map((one) => ({ ...one, indistinct: true })) : judged;
  const answered = answerLoads(told, switching, {
    falseAlarmRate,
    power,
    source,
    lowestResistanceOhm: lowestResistanceOhm(source, profile, estimated),
    sourceRegulated: facts.regulatedAboveV !== null,
    sourceNotShown: silent.size === judged.length && !detected.windows.some(({ detection }) => levelMoves(detection)),
    frozen: facts.frozen,
    atEnd: facts.meterEndV !== null,
    frictionUntold: facts.frictionUntold,
    besideMarks: unmarked,
    cadenceTold: options.cadence != null,
    displayStepV: facts.displayStepV,
    gainUncertainty,
    random,
  });
  const dips = gatherDips(judged, answered.loads, source, steps, { gainUncertainty, random });
  const battery = batteryAnswer({
    source,
    dips,
    steps,
    profile,
    baseA: baseCurrent(
      recording,
      switching.loads.flatMap(({ onTimes }) => onTimes),
    ),
    busV: quietLevel(detected),
    regulated: facts.regulatedAboveV !== null,
    temperatureC: options.temperatureC ?? null,
    stateOfCharge: options.stateOfCharge ?? null,
    polarization: polarizationUnderGain(
      polarization(recording, profile?.meter, steps?.dischargeSign ?? null, random),
      gainUncertainty,
    ),
    twoCurrent: figuresUnderGain(
      twoCurrentFigures(recording, steps?.dischargeSign ?? null, profile?.battery?.capacityAh),
      gainUncertainty,
    ),
    random,
  });

  return {
    recording: facts.summary,
    noise: { ...detected.noise, quantumV: facts.displayStepV },
    detection: { mode: switching.mode, falseAlarmRate, power, ...answered.limits },
    dips,
    loads: answered.loads,
    battery: battery.answer,
    budgets: [...answered.budgets, ...battery.budgets],
    curves: gatherCurves(detected, judged),
    assumptions: [
      ...copyNote(copies, renewed),
      ...(facts.frictionUntold ? [{ code: "friction-untold" } as const] : []),
      ...switching.assumptions,
      ...detected.assumptions,
      ...answered.assumptions,
      ...rankUntold(judged, profile, source, falseAlarmRate),
      ...rankSharers(judged, switching, source, falseAlarmRate),
      ...battery.assumptions,
    ],
    cautions: cautionsFor(profile),
    warnings: [
      ...facts.warnings,
      ...unpoweredWarning(unpowered),
      ...heldWarning(held),
      ...detected.warnings,
      ...answered.warnings,
      ...(doubt === null ? [] : [{ code: "resistance-contradicted", ...doubt } as const]),
      ...warningsOf(unmarked),
    ],
  };
}
