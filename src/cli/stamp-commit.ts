import { writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { judgementSha256, STAMP_FILE } from "./software-version.js";
import { commitOf, differsFromCommit } from "./source-commit.js";

// Part of the build: writes beside the program which commit it was built from, for `busdip --version`.
const folder = fileURLToPath(new URL("../../", import.meta.url));
const commit = commitOf(folder);
const changed = commit !== null && differsFromCommit(folder) === true;
writeFileSync(STAMP_FILE, `${JSON.stringify({ commit, changed, judgement: judgementSha256() })}\n`);
