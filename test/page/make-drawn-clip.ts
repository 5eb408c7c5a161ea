import { writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { drawnClip } from "./drawn-clip.js";
import { DESK, startBrowser } from "./real-browser.js";

const browser = await startBrowser();
const context = await browser.newContext(DESK);
writeFileSync(fileURLToPath(new URL("drawn-dial.webm", import.meta.url)), await drawnClip(context));
await browser.close();
