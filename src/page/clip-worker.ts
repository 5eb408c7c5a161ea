import { openDecodedClip } from "../importers/video/browser/decoded-clip.js";
import { clipDesk } from "./clip-desk.js";
import type { ClipRequest } from "./clip-messages.js";

const work = clipDesk(openDecodedClip, (message, transfer = []) => postMessage(message, { transfer }));

addEventListener("message", ({ data }: MessageEvent<ClipRequest>) => work(data));
