import { defineConfig } from "vitest/config";

export default defineConfig({
  test: {
    include: ["test/**/*.test.ts"],
    reporters: ["default", "./test/closing-line-reporter.ts"],
    testTimeout: 60_000,
    env: { TZ: "UTC" },
  },
});
