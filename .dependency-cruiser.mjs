const only = (from, allowed) => ({
  name: `${from}-imports-only`,
  severity: "error",
  from: { path: `^src/${from}/` },
  to: { path: "^src/", pathNot: [`^src/${from}/`, ...allowed.map((a) => `^src/${a}`)] },
});

export default {
  forbidden: [
    only("core", []),
    only("importers", ["core/index\\.ts$"]),
    only("history", ["core/index\\.ts$"]),
    only("report", ["core/index\\.ts$"]),
    only("page", ["core/index\\.ts$", "importers/", "report/"]),
    only("cli", ["core/index\\.ts$", "importers/", "history/", "report/"]),
    {
      name: "core-is-pure",
      severity: "error",
      from: { path: "^src/core/" },
      to: { dependencyTypes: ["core", "npm-dev"] },
    },
    { name: "no-cycles", severity: "error", from: {}, to: { circular: true } },
  ],
  options: {
    tsConfig: { fileName: "tsconfig.json" },
    tsPreCompilationDeps: true,
    enhancedResolveOptions: { extensions: [".ts", ".tsx", ".js"] },
  },
};
