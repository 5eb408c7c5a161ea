import profileAddress from "../../samples/ice-2.profile.yaml?url";
import logAddress from "../../samples/ice-2-ramp.csv?url";
import marksAddress from "../../samples/ice-2-ramp.marks.csv?url";
import type { SwitchingMark } from "../core/index.js";
import { readMarks, readProfile } from "../importers/browser.js";

/** The simulated ramp check of the invented twin ICE-2. */
export async function demoInputs(): Promise<{
  readonly log: Blob;
  readonly name: string;
  readonly profileText: string;
  readonly marks: readonly SwitchingMark[];
}> {
  const [log, marksText, profileText] = await Promise.all([
    fetch(logAddress).then((answer) => answer.blob()),
    fetch(marksAddress).then((answer) => answer.text()),
    fetch(profileAddress).then((answer) => answer.text()),
  ]);
  const marks = readMarks(marksText, "the marks", readProfile(profileText, "the profile"));
  return { log, name: "ice-2-ramp.csv", profileText, marks };
}
