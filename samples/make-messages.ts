import { writeFileSync } from "node:fs";
import { messagesPage } from "./refusals.js";

// Writes samples/messages.md again: every sentence that bad input can get, as it stands in the program.
writeFileSync(new URL("messages.md", import.meta.url), messagesPage());
