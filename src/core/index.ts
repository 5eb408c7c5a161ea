export type * from "./analysis.js";
export { analyze } from "./analyze.js";
export type { AnalyzeOptions, Cadence } from "./analyze-options.js";
export { copperResistanceAt, copperWireResistance } from "./battery/copper-path.js";
export { CAPACITY_MODEL, type Endurance, type EnduranceInput, endurance } from "./battery/endurance.js";
export { internalResistance } from "./battery/internal-resistance.js";
export {
  GUIDE_COEFFICIENTS,
  type NormalizationCoefficients,
  type NormalizedResistance,
  normalizedResistance,
  REFERENCE_C,
} from "./battery/normalization.js";
export { leadAcidCellV, REST_VOLTAGE } from "./battery/rest-voltage.js";
export { type ChangePointOptions, changePoints, type Segmentation } from "./detection/change-point.js";
export { type MarkClock, markClock } from "./detection/mark-clock.js";
export type { Answer, Unanswered } from "./estimation/answer.js";
export { type CurrentStep, currentSteps } from "./estimation/current-step.js";
export { type JointFit, type JointFitInput, jointFit } from "./estimation/joint-fit.js";
export { currentByReference, currentFromResistance, type LoadCurrent } from "./estimation/load-current.js";
export { currentFromSource, type LoadLaw, loadLaw } from "./estimation/load-kind.js";
export { adaptiveMonteCarlo, monteCarlo, shortestInterval, symmetricInterval } from "./estimation/monte-carlo.js";
export { nonlinearLeastSquares } from "./estimation/nonlinear-least-squares.js";
export { resistanceFromReference } from "./estimation/source-resistance.js";
export { type ResistanceAtStep, resistanceAtSteps, type StepResistance } from "./estimation/step-resistance.js";
export { type TheveninFit, type TheveninInput, theveninFit } from "./estimation/thevenin.js";
export { slidingReference, type ThresholdDip, thresholdDips } from "./estimation/threshold-dips.js";
export {
  iec60896Schedule,
  iec61960Schedule,
  type TwoCurrentResult,
  twoCurrentResistance,
} from "./estimation/two-current-resistance.js";
export { type BudgetInput, uncertaintyBudget } from "./estimation/uncertainty-budget.js";
export {
  type LiveAnalysis,
  type LiveAnswer,
  type LiveJudgement,
  type LiveLoad,
  type LiveOptions,
  liveAnalysis,
} from "./live/live-analysis.js";
export type * from "./notes.js";
export { checkOrder } from "./plan/check-order.js";
export type * from "./plan/check-plan.js";
export { type EnduranceOutlook, enduranceOutlook, type Shed } from "./plan/endurance-outlook.js";
export type { ExpectedDip, PlannedSource } from "./plan/expected-dip.js";
export { type PlanConditions, planCheck } from "./plan/plan-check.js";
export { type PlannedReadings, readingsFromQuiet, statedReadings } from "./plan/planned-readings.js";
export { QUIET_S } from "./plan/planned-stretch.js";
export {
  evenPattern,
  onTimesOf,
  type PatternWishes,
  type SwitchingPattern,
  switchingPattern,
} from "./plan/switching-pattern.js";
export { type BusItem, type ItemStanding, type Tick, type WholeBus, wholeBus } from "./plan/whole-bus.js";
export * from "./profile.js";
export type { Quantity, Route, Uncertain, Unit } from "./quantity/quantity.js";
export {
  type AlignmentDoubt,
  type AlignOptions,
  alignClocks,
  type ClockAlignment,
  type KnownAlignment,
  LARGEST_COINCIDENCE,
  onRecordingClock,
} from "./series/clock-alignment.js";
export type { CurrentSeries, Recording, SwitchingMark } from "./series/recording.js";
export * from "./trend/battery-trend.js";
export { type Concern, compareConcern, concernOf } from "./trend/concern.js";
export { fleetScatter } from "./trend/fleet-scatter.js";
export type { LimitForecast } from "./trend/forecast.js";
export { type ConditionedReading, type NormalizationNote, withNormalized } from "./trend/normalized-readings.js";
export type { FleetScatter } from "./trend/regime.js";
export type { FlightSlope } from "./trend/slope.js";
export * from "./trend/trend.js";
