import { useLayoutEffect, useRef } from "preact/hooks";
import type { Markup } from "../report/markup.js";

/** A part of a report, set into the page as it is: `Markup` is made from escaped text only. */
export function ReadyMarkup({ part }: { readonly part: Markup | null }) {
  const host = useRef<HTMLDivElement>(null);
  useLayoutEffect(() => {
    if (host.current !== null) host.current.innerHTML = part?.html ?? "";
  }, [part]);
  return <div class="report-part" ref={host} />;
}
