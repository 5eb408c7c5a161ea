import { planCheck } from "../core/index.js";
import { InputError, readProfile } from "../importers/browser.js";
import { formatPlain } from "../report/number-format.js";

/** The dip that each load is expected to make, as a sentence by the load's id; empty while the profile is not complete. */
export function predictedDips(profileText: string | null): ReadonlyMap<string, string> {
  if (profileText === null) return new Map();
  try {
    const plan = planCheck(readProfile(profileText, "the profile"), { readings: null });
    return new Map(plan.items.map((item) => [item.load.id, sentence(item)]));
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return new Map();
  }
}

function sentence({ load, needle }: ReturnType<typeof planCheck>["items"][number]): string {
  if (needle === null) return "This load shows by itself; the meter is not asked.";
  const { nominal, lowestV } = needle.expected;
  const parts: string[] = [];
  if (nominal !== null) {
    parts.push(
      `about ${formatPlain(nominal.value, "V", { digits: 2 })} by its rating (standard uncertainty ${formatPlain(nominal.u, "V", { digits: 1 })})`,
    );
  }
  // By the resistance less two standard uncertainties, as the verdict reckons.
  if (lowestV !== null) {
    parts.push(`at least ${formatPlain(lowestV, "V", { digits: 2 })} at the lowest acceptable current`);
  }
  if (parts.length > 0) return `Expected dip: ${parts.join(", ")}.`;
  return load.rated === undefined && load.acceptA === undefined
    ? "No dip can be predicted: give a rating or the acceptable currents."
    : "No dip can be predicted: give the battery's internal resistance.";
}
