import { useState } from "preact/hooks";
import { InputError, readProfile } from "../importers/browser.js";
import { plainLabel } from "../report/label-text.js";
import { FileChoice } from "./file-choice.js";
import { goTo } from "./screen.js";
import { withInput } from "./work.js";
import { useWork, type WorkStore } from "./work-store.js";

/** Which loads will be judged, and how to name them. */
export function LoadsSummary({ store }: { readonly store: WorkStore }) {
  const work = useWork(store);
  const [problem, setProblem] = useState<string | null>(null);
  const profile = work.profileText === null ? null : checked(work.profileText);
  const take = async (file: File): Promise<void> => {
    const text = await file.text();
    const outcome = checked(text, file.name);
    setProblem(typeof outcome === "string" ? outcome : null);
    if (typeof outcome !== "string") store.change((now) => withInput(now, { profileText: text }));
  };
  return (
    <section aria-labelledby="loads-h">
      <h2 id="loads-h">Loads</h2>
      {profile === null && (
        <p>No load is named yet: dips will be found, but none judged. Name what was switched, or choose a profile.</p>
      )}
      {typeof profile === "string" && (
        <p class="problem" role="alert">
          {profile}.
        </p>
      )}
      {profile !== null && typeof profile !== "string" && (
        <>
          <p>
            <bdi>{plainLabel(profile.aircraft ?? "Aircraft without a name")}</bdi>
            {profile.battery?.id === undefined ? "" : `, battery ${plainLabel(profile.battery.id)}`}
          </p>
          <ul class="names">
            {profile.loads.map((load) => (
              <li key={load.id}>
                <bdi>{plainLabel(load.name ?? load.id)}</bdi>
              </li>
            ))}
          </ul>
        </>
      )}
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}.
        </p>
      )}
      <p class="row">
        <button type="button" class="second" onClick={() => goTo("loads")}>
          {work.profileText === null ? "Name a load" : "Change the loads"}
        </button>
        <FileChoice accept=".yaml,.yml,text/yaml" onFile={take}>
          Choose a profile
        </FileChoice>
      </p>
    </section>
  );
}

function checked(text: string, name = "the profile") {
  try {
    return readProfile(text, name);
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return fault.message;
  }
}
