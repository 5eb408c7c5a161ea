/**
 * A stand-in for a libSQL server: the Hrana 3 protocol over HTTP with JSON (requests execute, batch, sequence, describe,
 * get_autocommit, close; streams by baton) on a file of its own. Written from the protocol's published specification,
 * since no libSQL server can be had from npm or Debian. Prints its port. Arguments: file, token.
 */
import { createServer } from "node:http";
import Database from "libsql";

type Open = InstanceType<typeof Database>;
type WireValue =
  | { type: "null" }
  | { type: "integer"; value: string }
  | { type: "float"; value: number }
  | { type: "text"; value: string };
interface WireStatement {
  sql: string;
  args?: WireValue[];
}
interface WireCondition {
  type: string;
  step?: number;
  cond?: WireCondition;
  conds?: WireCondition[];
}
interface WireRequest {
  type: string;
  sql?: string;
  stmt?: WireStatement;
  batch?: { steps: { condition?: WireCondition | null; stmt: WireStatement }[] };
}

const [file, token] = process.argv.slice(2);
const streams = new Map<string, Open>();
let batons = 0;

function fromWire(value: WireValue): unknown {
  return value.type === "null" ? null : value.type === "integer" ? Number(value.value) : value.value;
}

function toWire(value: unknown): WireValue {
  if (value === null || value === undefined) return { type: "null" };
  if (typeof value === "number") {
    return Number.isInteger(value) ? { type: "integer", value: String(value) } : { type: "float", value };
  }
  return { type: "text", value: String(value) };
}

function execute(database: Open, { sql, args = [] }: WireStatement) {
  const statement = database.prepare(sql);
  const values = args.map(fromWire);
  if (!statement.reader) {
    const { changes, lastInsertRowid } = statement.run(...values);
    return { cols: [], rows: [], affected_row_count: changes, last_insert_rowid: String(lastInsertRowid) };
  }
  const rows = statement.all(...values) as Record<string, unknown>[];
  const cols = statement.columns().map(({ name, type }) => ({ name, decltype: type }));
  return {
    cols,
    rows: rows.map((row) => cols.map(({ name }) => toWire(row[name]))),
    affected_row_count: 0,
    last_insert_rowid: null,
  };
}

function holds(
  condition: WireCondition | null | undefined,
  done: boolean[],
  failed: boolean[],
  database: Open,
): boolean {
  if (!condition) return true;
  switch (condition.type) {
    case "ok":
      return done[condition.step!] === true;
    case "error":
      return failed[condition.step!] === true;
    case "not":
      return !holds(condition.cond, done, failed, database);
    case "and":
      return condition.conds!.every((each) => holds(each, done, failed, database));
    case "or":
      return condition.conds!.some((each) => holds(each, done, failed, database));
    case "is_autocommit":
      return !database.inTransaction;
    default:
      throw new Error(`condition ${condition.type}`);
  }
}

function answer(database: Open, request: WireRequest): unknown {
  switch (request.type) {
    case "execute":
      return { type: "execute", result: execute(database, request.stmt!) };
    case "sequence":
      database.exec(request.sql!);
      return { type: "sequence" };
    case "describe": {
      const statement = database.prepare(request.sql!);
      const cols = statement.reader ? statement.columns().map(({ name, type }) => ({ name, decltype: type })) : [];
      return { type: "describe", result: { params: [], cols, is_explain: false, is_readonly: statement.reader } };
    }
    case "batch": {
      const results: unknown[] = [];
      const errors: unknown[] = [];
      const done: boolean[] = [];
      const failed: boolean[] = [];
      for (const { condition, stmt } of request.batch!.steps) {
        let result: unknown = null;
        let error: unknown = null;
        if (holds(condition, done, failed, database)) {
          try {
            result = execute(database, stmt);
          } catch (thrown) {
            error = complaint(thrown);
          }
        }
        results.push(result);
        errors.push(error);
        done.push(result !== null);
        failed.push(error !== null);
      }
      return { type: "batch", result: { step_results: results, step_errors: errors } };
    }
    case "get_autocommit":
      return { type: "get_autocommit", is_autocommit: !database.inTransaction };
    case "close":
      return { type: "close" };
    default:
      throw new Error(`request ${request.type}`);
  }
}

/** A batch as the lines of a cursor. */
function cursor(database: Open, batch: NonNullable<WireRequest["batch"]>): unknown[] {
  const done: boolean[] = [];
  const failed: boolean[] = [];
  return batch.steps.flatMap(({ condition, stmt }, step): unknown[] => {
    done[step] = failed[step] = false;
    if (!holds(condition, done, failed, database)) return [];
    try {
      const { cols, rows, affected_row_count, last_insert_rowid } = execute(database, stmt);
      done[step] = true;
      return [
        { type: "step_begin", step, cols },
        ...rows.map((row) => ({ type: "row", row })),
        { type: "step_end", affected_row_count, last_insert_rowid },
      ];
    } catch (thrown) {
      failed[step] = true;
      return [{ type: "step_error", step, error: complaint(thrown) }];
    }
  });
}

function streamOf(baton: string | null): Open {
  const database = (baton === null ? undefined : streams.get(baton)) ?? new Database(file, { timeout: 10_000 });
  if (baton !== null) streams.delete(baton);
  return database;
}

function newBaton(database: Open): string {
  batons++;
  streams.set(`stream-${batons}`, database);
  return `stream-${batons}`;
}

function complaint(thrown: unknown) {
  const { message, code } = thrown as { message: string; code?: string };
  return { message, code: code ?? "UNKNOWN" };
}

createServer((incoming, outgoing) => {
  const chunks: Buffer[] = [];
  incoming.on("data", (chunk) => chunks.push(chunk));
  incoming.on("end", () => {
    const reply = (status: number, body: unknown) => {
      outgoing.writeHead(status, { "content-type": "application/json" });
      outgoing.end(JSON.stringify(body));
    };
    if (incoming.headers.authorization !== `Bearer ${token}`) return reply(401, { message: "Unauthorized" });
    if (incoming.url === "/v3/cursor") {
      const { baton, batch } = JSON.parse(Buffer.concat(chunks).toString()) as { baton: string | null } & WireRequest;
      const database = streamOf(baton);
      outgoing.writeHead(200, { "content-type": "application/json" });
      outgoing.end(
        [{ baton: newBaton(database), base_url: null }, ...cursor(database, batch!)]
          .map((line) => `${JSON.stringify(line)}\n`)
          .join(""),
      );
      return;
    }
    if (incoming.url !== "/v3/pipeline") return reply(404, { message: "Not Found" });
    const { baton, requests } = JSON.parse(Buffer.concat(chunks).toString()) as {
      baton: string | null;
      requests: WireRequest[];
    };
    const database = streamOf(baton);
    const results = requests.map((request) => {
      try {
        return { type: "ok", response: answer(database, request) };
      } catch (thrown) {
        return { type: "error", error: complaint(thrown) };
      }
    });
    if (requests.some((request) => request.type === "close")) {
      database.close();
      return reply(200, { baton: null, base_url: null, results });
    }
    return reply(200, { baton: newBaton(database), base_url: null, results });
  });
}).listen(0, "127.0.0.1", function (this: { address(): unknown }) {
  process.stdout.write(`${(this.address() as { port: number }).port}\n`);
});
