import type { ComponentChildren } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";

interface FileChoiceProps {
  readonly accept: string;
  readonly class?: string;
  readonly onFile: (file: File) => void;
  readonly children: ComponentChildren;
}

/** A button that opens the device's own choice of files. */
export function FileChoice({ accept, onFile, children, ...rest }: FileChoiceProps) {
  const input = useRef<HTMLInputElement>(null);
  return (
    <>
      <button type="button" class={rest.class ?? "second"} onClick={() => input.current?.click()}>
        {children}
      </button>
      <input
        ref={input}
        type="file"
        accept={accept}
        hidden
        onChange={(event) => {
          const [file] = event.currentTarget.files ?? [];
          event.currentTarget.value = "";
          if (file !== undefined) onFile(file);
        }}
      />
    </>
  );
}

/** Takes a file that is dropped anywhere on the page; whether one hovers over it now. */
export function useDroppedFile(onFile: (file: File) => void): boolean {
  const [dropping, setDropping] = useState(false);
  const take = useRef(onFile);
  take.current = onFile;
  useEffect(() => {
    const over = (event: DragEvent) => {
      event.preventDefault();
      setDropping(true);
    };
    const out = (event: DragEvent) => {
      if (event.relatedTarget === null) setDropping(false);
    };
    const drop = (event: DragEvent) => {
      event.preventDefault();
      setDropping(false);
      const [file] = event.dataTransfer?.files ?? [];
      if (file !== undefined) take.current(file);
    };
    addEventListener("dragover", over);
    addEventListener("dragleave", out);
    addEventListener("drop", drop);
    return () => {
      removeEventListener("dragover", over);
      removeEventListener("dragleave", out);
      removeEventListener("drop", drop);
    };
  }, []);
  return dropping;
}
