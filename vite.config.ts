import { existsSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { initWasm, Resvg } from "@resvg/resvg-wasm";
import { defineConfig, type Plugin } from "vite";

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

/** Version and hash of the judging program as the command line states them; it must be compiled first. */
async function programFacts(): Promise<{ readonly version: string; readonly judgementSha256: string }> {
  const compiled = here("dist/cli/software-version.js");
  if (!existsSync(compiled)) throw new Error("The page is built after the program: npm run build");
  const program = await import(compiled);
  return { version: program.softwareVersion(), judgementSha256: program.judgementSha256() };
}

/** The icon in pixels, for home screens that take no SVG; where they cut it to a shape of their own, it fills the square. */
const PIXEL_ICONS = [
  { name: "icon-192.png", sizePx: 192, isCut: false },
  { name: "icon-512.png", sizePx: 512, isCut: false },
  { name: "icon-cut-512.png", sizePx: 512, isCut: true },
  { name: "apple-touch-icon.png", sizePx: 180, isCut: true },
] as const;

/** Draws the icon in pixels from the one drawing of it. */
function pixelIcons(): Plugin {
  return {
    name: "pixel-icons",
    async buildStart() {
      await initWasm(readFileSync(here("node_modules/@resvg/resvg-wasm/index_bg.wasm")));
      const drawing = readFileSync(here("src/page/public/icon.svg"), "utf8");
      // A cut leaves a disc of 0.8 of the width at the least (W3C Web Application Manifest, "maskable").
      const toTheEdge = drawing
        .replace('viewBox="0 0 64 64"', 'viewBox="-8 -8 80 80"')
        .replace('<rect width="64" height="64" rx="12"', '<rect x="-8" y="-8" width="80" height="80"');
      if (!toTheEdge.includes('"-8 -8 80 80"') || toTheEdge.includes("rx=")) {
        throw new Error("The icon is drawn otherwise than its pixels are made from");
      }
      for (const { name, sizePx, isCut } of PIXEL_ICONS) {
        const picture = new Resvg(isCut ? toTheEdge : drawing, { fitTo: { mode: "width", value: sizePx } }).render();
        this.emitFile({ type: "asset", fileName: name, source: picture.asPng() });
      }
    },
    // The build itself looks for files in the sources, where this one is not.
    transformIndexHtml: {
      order: "post",
      handler: () => [{ tag: "link", attrs: { rel: "apple-touch-icon", href: "./apple-touch-icon.png" } }],
    },
  };
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
    plugins: [pixelIcons(), offlineFiles()],
  };
});
