import { render } from "preact";
import { App } from "./app.js";
import { missingAbilities } from "./browser-abilities.js";
import { openDeviceStore } from "./device-store.js";
import { Elsewhere } from "./elsewhere.js";
import { keepForOffline } from "./offline.js";
import { usePalettes } from "./palettes.js";
import "./style.css";
import { Turn } from "./turn.js";
import { WorkStore } from "./work-store.js";

usePalettes();
const host = document.getElementById("page")!;
const missing = missingAbilities();
if (missing.length > 0) {
  document.getElementById("too-old")!.textContent =
    `This browser cannot do the job: it has no ${missing.join(", no ")}. Use a browser from 2023 or later, or the command busdip analyze on a computer.`;
} else {
  const device = await openDeviceStore();
  host.replaceChildren();
  let store: WorkStore | null = null;
  const showWork = async (): Promise<void> => {
    const opened = await WorkStore.open(device, () => turn.lost());
    if (device.lasting && !turn.isMine) return;
    store = opened;
    render(<App store={opened} />, host);
  };
  const showElsewhere = (): void => {
    store?.close();
    render(<Elsewhere onTake={() => turn.take()} />, host);
  };
  const turn = new Turn({
    onMine: () => void showWork(),
    onElsewhere: showElsewhere,
    letGo: async () => {
      if (store?.isBusy === true) return false;
      await store?.close();
      return true;
    },
  });
  // What is kept nowhere is shared with nobody.
  if (device.lasting) await turn.begin();
  else await showWork();
  keepForOffline();
}
