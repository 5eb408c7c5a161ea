import type { JSX } from "preact";
import { useState } from "preact/hooks";

type InputProps = Omit<JSX.IntrinsicElements["input"], "value" | "onInput" | "onChange" | "onBlur">;

interface TypedInputProps extends InputProps {
  readonly value: string;
  /** Told the whole text once it is typed. */
  readonly onTyped: (text: string) => void;
}

/** A field whose half-typed text stays when the page is drawn anew meanwhile, as when a reading comes in. */
export function TypedInput({ value, onTyped, ...rest }: TypedInputProps) {
  const [typed, setTyped] = useState<string | null>(null);
  return (
    <input
      {...rest}
      value={typed ?? value}
      onInput={(event) => setTyped(event.currentTarget.value)}
      onChange={(event) => {
        const text = event.currentTarget.value;
        setTyped(null);
        onTyped(text);
      }}
      onBlur={() => setTyped(null)}
    />
  );
}
