/** What keeps a history from being read or written. */
export type StoreFault =
  | "not-found"
  | "not-a-database"
  | "not-a-history"
  | "newer-schema"
  | "write-protected"
  | "disk-full"
  | "in-use"
  | "unreachable"
  | "refused"
  | "damaged"
  | "bad-entry";

/** The history cannot be used: one sentence that says where, what, and how to mend it. Nothing was changed. */
export class StoreError extends Error {
  readonly fault: StoreFault;
  /** File or URL of the history, or the file with the fault. */
  readonly place: string;
  readonly problem: string;
  readonly remedy: string;

  constructor(fault: StoreFault, place: string, problem: string, remedy: string) {
    super(`${place}: ${problem}; ${remedy}`);
    this.name = "StoreError";
    this.fault = fault;
    this.place = place;
    this.problem = problem;
    this.remedy = remedy;
  }
}

/** The database's own complaint as a sentence for people; other errors come back as they are. */
export function storeErrorFrom(error: unknown, place: string): unknown {
  if (error instanceof StoreError || !(error instanceof Error)) return error;
  const code = "code" in error && typeof error.code === "string" ? error.code : "";
  const text = `${code} ${error.message}`;
  for (const [sign, fault, problem, remedy] of COMPLAINTS) {
    if (sign.test(text)) return new StoreError(fault, place, problem, remedy);
  }
  return error;
}

const COMPLAINTS: readonly (readonly [RegExp, StoreFault, string, string])[] = [
  [
    /SQLITE_NOTADB|file is not a database/,
    "not-a-database",
    "this file is not a history",
    "give another file after --store, or move this one away",
  ],
  [
    /SQLITE_CORRUPT|malformed|SQLITE_IOERR_(READ|SHORT_READ|DATA|CORRUPTFS)/,
    "damaged",
    "this history is damaged",
    "bring back a copy, or take it out of an export with busdip history import",
  ],
  [
    /SQLITE_FULL|SQLITE_IOERR_(WRITE|FSYNC|TRUNCATE|SHMSIZE|SHMOPEN)|disk is full/,
    "disk-full",
    "the disk is full, nothing was added",
    "make room, or give a history on another disk after --store",
  ],
  [
    /SQLITE_READONLY|readonly database|SQLITE_CANTOPEN|unable to open database file|SQLITE_PERM/,
    "write-protected",
    "this history may not be written",
    "change the permissions of the file and its folder, or give another after --store",
  ],
  [
    /SQLITE_BUSY|SQLITE_LOCKED|database is locked/,
    "in-use",
    "another program holds this history",
    "wait until it is done and run this again",
  ],
  [
    /status=40[13]|Unauthorized|Forbidden/i,
    "refused",
    "the server does not let us in",
    "set BUSDIP_STORE_TOKEN to a token of this server",
  ],
  [
    /Hrana\(Http|connect error|dns error|ConnectionFailed|status=(404|5\d\d)|Api\("/,
    "unreachable",
    "the server of this history cannot be reached or does not answer as one",
    "check the address and the network",
  ],
];
