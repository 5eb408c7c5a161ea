import type { Reporter, TestModule } from "vitest/node";

/** Prints the runner's plain closing line, "N passed, N failed, N skipped", alone on the last line. */
class ClosingLineReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    const count = { passed: 0, failed: 0, skipped: 0 };
    for (const module of modules) {
      let testCount = 0;
      for (const test of module.children.allTests()) {
        testCount += 1;
        const state = test.result().state;
        if (state === "pending") count.skipped += 1;
        else count[state] += 1;
      }
      if (module.state() === "failed" && testCount === 0) count.failed += 1;
    }
    // After the default reporter's own summary.
    setTimeout(() => {
      process.stdout.write(`\n${count.passed} passed, ${count.failed} failed, ${count.skipped} skipped\n`);
    }, 0);
  }
}

// biome-ignore lint/style/noDefaultExport: vitest loads a reporter by its default export
export default ClosingLineReporter;
