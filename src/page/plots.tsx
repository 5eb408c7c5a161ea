import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import type { Analysis } from "../core/index.js";
import { plotlyFigure } from "../report/figures/plotly-figure.js";
import { reportFigures } from "../report/html.js";
import { figureSection } from "../report/sections/figures.js";
import { plotlyAddress } from "./answer-files.js";
import { ReadyMarkup } from "./ready-markup.js";

type Json = Record<string, unknown>;

interface Plotting {
  react(host: Element, data: unknown, layout: unknown, config: Json): Promise<unknown>;
}

/** Drawing a frame zooms in, a double tap zooms out; a row of buttons would cover labels. */
const CONFIG = { responsive: true, displayModeBar: false, scrollZoom: false };

let library: Promise<Plotting> | null = null;

function plotting(): Promise<Plotting> {
  library ??= new Promise((done, fail) => {
    const script = document.createElement("script");
    script.src = plotlyAddress;
    script.onload = () => done((window as unknown as { Plotly: Plotting }).Plotly);
    script.onerror = () => {
      library = null;
      fail(new Error("The plotting library could not be fetched"));
    };
    document.head.append(script);
  });
  return library;
}

/** Every figure of the report: drawn at once as it is printed, and made interactive when it comes into view. */
export function Plots({ analysis }: { readonly analysis: Analysis }) {
  const host = useRef<HTMLDivElement>(null);
  const figures = useMemo(() => reportFigures(analysis), [analysis]);
  const isNarrow = useNarrow();
  const section = useMemo(() => figureSection(figures, isNarrow), [figures, isNarrow]);
  useEffect(() => {
    const dark = matchMedia("(prefers-color-scheme: dark)");
    const drawn = new Set<Element>();
    const draw = async (figure: Element): Promise<void> => {
      const place = figure.querySelector<HTMLElement>(".interactive");
      const one = figures.find(({ id }) => id === figure.id);
      if (place === null || one === undefined) return;
      const library = await plotting();
      const { data, wide, narrow: slim } = plotlyFigure(one);
      const style = getComputedStyle(document.documentElement);
      place.hidden = false;
      figure.classList.add("drawn");
      drawn.add(figure);
      await library.react(place, coloured(data, style), coloured(isNarrow ? slim : wide, style), CONFIG);
    };
    // The printed drawing stays where the library cannot be had.
    const drawOrLeave = (figure: Element) => draw(figure).catch(() => figure.classList.remove("drawn"));
    const seen = new IntersectionObserver(
      (entries) => {
        for (const { isIntersecting, target } of entries) {
          if (!isIntersecting) continue;
          seen.unobserve(target);
          void drawOrLeave(target);
        }
      },
      { rootMargin: "100px" },
    );
    for (const figure of host.current?.querySelectorAll("figure") ?? []) seen.observe(figure);
    const redraw = () => {
      for (const figure of drawn) void drawOrLeave(figure);
    };
    dark.addEventListener("change", redraw);
    return () => {
      seen.disconnect();
      dark.removeEventListener("change", redraw);
    };
  }, [figures, isNarrow]);
  return (
    <div ref={host}>
      <ReadyMarkup part={section} />
    </div>
  );
}

/** Whether the page is as narrow as a phone; draws anew when that changes. */
function useNarrow(): boolean {
  const narrow = useMemo(() => matchMedia("(max-width: 40rem)"), []);
  const [isNarrow, setNarrow] = useState(narrow.matches);
  useEffect(() => {
    const follow = () => setNarrow(narrow.matches);
    narrow.addEventListener("change", follow);
    return () => narrow.removeEventListener("change", follow);
  }, [narrow]);
  return isNarrow;
}

/** Colours are named in a figure and looked up in the page's own palette, light or dark. */
function coloured(value: unknown, style: CSSStyleDeclaration): unknown {
  if (Array.isArray(value)) return value.map((one) => coloured(one, style));
  if (value === null || typeof value !== "object") return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, one]) => {
      if (/color$/.test(name) && typeof one === "string" && one.startsWith("@")) {
        return [name, style.getPropertyValue(`--${one.slice(1)}`).trim()];
      }
      return [name, name === "x" || name === "y" ? one : coloured(one, style)];
    }),
  );
}
