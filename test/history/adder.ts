/** Adds recordings one after the other and says each one on stdout once it is acknowledged. Arguments: file, first number, count. */
import { writeSync } from "node:fs";
import { openHistory } from "../../src/history/index.js";
import { entry } from "./entries.js";

const [path, first, count] = process.argv.slice(2);
const history = openHistory({ kind: "file", path }, { make: true });
for (let number = Number(first); number < Number(first) + Number(count); number++) {
  history.add(entry(number));
  writeSync(1, `${number}\n`);
}
history.close();
