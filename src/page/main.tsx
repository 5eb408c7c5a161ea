import { render } from "preact";
import { App } from "./app.js";
import { missingAbilities } from "./browser-abilities.js";
import { keepForOffline } from "./offline.js";
import { usePalettes } from "./palettes.js";
import "./style.css";
import { WorkStore } from "./work-store.js";

usePalettes();
const host = document.getElementById("page")!;
const missing = missingAbilities();
if (missing.length > 0) {
  document.getElementById("too-old")!.textContent =
    `This browser cannot do the job: it has no ${missing.join(", no ")}. Use a browser from 2023 or later, or the command busdip analyze on a computer.`;
} else {
  const store = await WorkStore.open();
  host.replaceChildren();
  render(<App store={store} />, host);
  keepForOffline();
}
