import type { ServedHistory } from "./served-history.js";
import type { WorkStore } from "./work-store.js";

/** What every screen is given. */
export interface ScreenProps {
  readonly store: WorkStore;
  /** The history of the server that this page came from; null where there is none. */
  readonly history: ServedHistory | null;
}
