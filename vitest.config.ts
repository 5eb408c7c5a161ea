import { defineConfig } from "vitest/config";

export default defineConfig({
  test: {
    include: ["test/**/*.test.ts"],
    reporters: ["default", "./test/closing-line-reporter.ts"],
    testTimeout: 180_000,
    // A page drawn on a busy machine may take more than the second that is usual.
    expect: { poll: { timeout: 10_000 } },
    env: { TZ: "UTC" },
  },
});
