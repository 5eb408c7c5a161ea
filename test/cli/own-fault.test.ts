import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { folderWith, runBusdip } from "./run-busdip.js";
import { smallCheck, smallWords } from "./small-check.js";

let folder: ReturnType<typeof folderWith>;
beforeAll(() => {
  folder = folderWith(smallCheck);
});
afterAll(() => folder.remove());

/** A runtime that cannot write JSON stands for any fault inside the program. */
const broken = `--import=data:text/javascript,${encodeURIComponent("JSON.stringify=()=>{throw new Error('no JSON today')}")}`;

function runBroken(debug: string) {
  const env = { NODE_OPTIONS: broken, BUSDIP_DEBUG: debug };
  return runBusdip([...smallWords, "--json"], { cwd: folder.path, env });
}

describe("busdip with a fault of its own", () => {
  it("says one sentence without a stack and exits with 70", () => {
    const { status, stdout, stderr } = runBroken("");
    expect(stderr).toBe(
      "busdip: this is the program's own fault (no JSON today); run it again with BUSDIP_DEBUG=1 to see where\n",
    );
    expect(stdout).toBe("");
    expect(status).toBe(70);
  });

  it("adds the stack with BUSDIP_DEBUG=1", () => {
    const { status, stderr } = runBroken("1");
    expect(stderr).toMatch(/\n\s+at .*analyze\.js:\d+/);
    expect(status).toBe(70);
  });
});
