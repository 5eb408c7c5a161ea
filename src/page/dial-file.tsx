import { InputError } from "../importers/browser.js";
import { formatDial, parseDial } from "../importers/video/dial.js";
import type { DialPointing } from "./dial-pointing.js";
import { FileChoice } from "./file-choice.js";
import { saveFile } from "./saving.js";

interface DialFileProps {
  readonly dial: DialPointing;
  readonly onTake: (dial: DialPointing) => void;
  /** Told what is wrong with a chosen file, in one sentence; null where nothing is. */
  readonly onProblem: (sentence: string | null) => void;
}

/** Pivot and marks from a dial file, and into one: the same contract as the command line's. */
export function DialFile({ dial, onTake, onProblem }: DialFileProps) {
  const take = async (file: File): Promise<void> => {
    try {
      const { still, marks, pivot = dial.pivot } = parseDial(await file.text(), file.name);
      if (still.width !== dial.still.width || still.height !== dial.still.height) {
        throw new InputError({
          file: file.name,
          problem: `it was made on a picture of ${still.width} x ${still.height} pixels, and this clip has ${dial.still.width} x ${dial.still.height}`,
          remedy: "point out the dial on this clip",
        });
      }
      onProblem(null);
      onTake({ still, pivot, marks });
    } catch (fault) {
      if (!(fault instanceof InputError)) throw fault;
      onProblem(`${fault.message}.`);
    }
  };
  const save = (): void => saveFile(new Blob([formatDial(dial)], { type: "application/yaml" }), "dial.yaml");
  return (
    <p class="row">
      <FileChoice accept=".yaml,.yml,text/yaml" onFile={take}>
        Choose a dial file
      </FileChoice>
      <button type="button" class="second" onClick={save}>
        Save the dial
      </button>
    </p>
  );
}
