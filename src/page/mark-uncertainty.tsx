import { useState } from "preact/hooks";
import { TypedInput } from "./typed-input.js";

/** What `busdip analyze --mark-uncertainty` takes too. */
const [LEAST_UNCERTAINTY_S, MOST_UNCERTAINTY_S] = [0.01, 5];

interface MarkUncertaintyProps {
  readonly uncertaintyS: number;
  readonly onChange: (uncertaintyS: number) => void;
}

/** How well the marked times are known: the judgement looks for the dips that far around them. */
export function MarkUncertainty({ uncertaintyS, onChange }: MarkUncertaintyProps) {
  const [problem, setProblem] = useState<string | null>(null);
  return (
    <div class="known">
      <label class="short">
        Times known within (s)
        <TypedInput
          inputMode="decimal"
          value={String(Number(uncertaintyS.toPrecision(2)))}
          aria-describedby="known-note"
          onTyped={(text) => {
            const typedS = text.trim() === "" ? Number.NaN : Number(text.replace(",", "."));
            const fits = typedS >= LEAST_UNCERTAINTY_S && typedS <= MOST_UNCERTAINTY_S;
            setProblem(fits ? null : `Give ${LEAST_UNCERTAINTY_S} to ${MOST_UNCERTAINTY_S} s; it stays as it was.`);
            if (fits) onChange(typedS);
          }}
        />
      </label>
      <p class="aside" id="known-note">
        Standard uncertainty of each time: 0.2 s by hand, 0.3 s to the beat.
      </p>
      {problem !== null && (
        <p class="problem" role="alert">
          {problem}
        </p>
      )}
    </div>
  );
}
