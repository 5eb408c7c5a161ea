import { readFileSync, writeFileSync } from "node:fs";
import { ranAnew } from "./worked-paths.js";

// Writes into README.md again what the program prints on its worked paths: `npm run build && npx tsx samples/make-readme.ts`.
const readme = new URL("../README.md", import.meta.url);
writeFileSync(readme, ranAnew(readFileSync(readme, "utf8")));
