export type * from "./analysis.js";
export { type AnalyzeOptions, analyze, type Cadence } from "./analyze.js";
export type { Answer, Unanswered } from "./estimation/answer.js";
export { type CurrentStep, currentSteps } from "./estimation/current-step.js";
export { type ResistanceAtStep, resistanceAtSteps, type StepResistance } from "./estimation/step-resistance.js";
export type * from "./notes.js";
export type * from "./profile.js";
export type { Quantity, Route, Uncertain, Unit } from "./quantity/quantity.js";
export type { CurrentSeries, Recording, SwitchingMark } from "./series/recording.js";
