export type * from "./analysis.js";
export type * from "./notes.js";
export type * from "./profile.js";
export type { Quantity, Route, Uncertain, Unit } from "./quantity/quantity.js";
export type { CurrentSeries, Recording, SwitchingMark } from "./series/recording.js";
