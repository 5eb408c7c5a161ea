export { readHistoryCsv, readHistoryJson, writeHistoryCsv, writeHistoryJson } from "./exchange.js";
export { placeName, type StoreLocation, storeLocation } from "./location.js";
export { momentOf } from "./moment.js";
export type { HistoryReading } from "./reading.js";
export type * from "./recording-entry.js";
export {
  type BatteryLine,
  type BatteryPlate,
  type History,
  type HistoryContent,
  openHistory,
  type RecordingLine,
  type RecordingTwins,
} from "./store.js";
export { StoreError, type StoreFault } from "./store-error.js";
