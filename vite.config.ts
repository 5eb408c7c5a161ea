import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { defineConfig, type Plugin } from "vite";

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

/** Version and hash of the judging program as the command line states them; it must be compiled first. */
async function programFacts(): Promise<{ readonly version: string; readonly judgementSha256: string }> {
  const compiled = here("dist/cli/software-version.js");
  if (!existsSync(compiled)) throw new Error("The page is built after the program: npm run build");
  const program = await import(compiled);
  return { version: program.softwareVersion(), judgementSha256: program.judgementSha256() };
}

/** Writes the names of all built files into the service worker, so that it can keep them for use without a network. */
function offlineFiles(): Plugin {
  return {
    name: "offline-files",
    enforce: "post",
    generateBundle(_options, bundle) {
      const names = Object.keys(bundle).filter((name) => name !== "service-worker.js");
      const publicNames = ["icon.svg", "manifest.webmanifest"];
      const worker = bundle["service-worker.js"];
      if (worker?.type !== "chunk") throw new Error("The service worker was not built");
      const list = JSON.stringify(["./", ...names.filter((name) => name !== "index.html"), ...publicNames].sort());
      worker.code = worker.code.replace(/(["'`])__OFFLINE_FILES__\1/, JSON.stringify(list));
    },
  };
}

export default defineConfig(async () => {
  const facts = await programFacts();
  return {
    root: here("src/page"),
    publicDir: here("src/page/public"),
    base: "./",
    // The package's build for browsers, which brings what it needs of Node with it.
    resolve: { alias: { "csv-parse/sync": "csv-parse/browser/esm/sync" } },
    define: {
      __SOFTWARE_VERSION__: JSON.stringify(facts.version),
      __JUDGEMENT_SHA256__: JSON.stringify(facts.judgementSha256),
    },
    oxc: { jsx: { runtime: "automatic" as const, importSource: "preact" } },
    worker: { format: "es" as const },
    build: {
      outDir: here("dist/page"),
      emptyOutDir: true,
      target: "es2022",
      modulePreload: { polyfill: false },
      assetsInlineLimit: 0,
      reportCompressedSize: false,
      chunkSizeWarningLimit: 2000,
      rollupOptions: {
        input: { index: here("src/page/index.html"), "service-worker": here("src/page/service-worker.ts") },
        output: {
          entryFileNames: (chunk: { name: string }) =>
            chunk.name === "service-worker" ? "service-worker.js" : "assets/[name]-[hash].js",
        },
      },
    },
    plugins: [offlineFiles()],
  };
});
