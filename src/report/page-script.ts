/**
 * The report's own program: turns each static drawing into an interactive one when it comes into view, in the colours
 * of the page, and again when the page turns dark, light, narrow or wide. Printing shows the static drawings.
 */
export const PAGE_SCRIPT = `(() => {
  "use strict";
  const specs = JSON.parse(document.getElementById("busdip-figures").textContent);
  const narrow = matchMedia("(max-width: 40rem)");
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const drawn = new Set();
  // Drawing a frame zooms in, a double click zooms out; a row of buttons would cover labels.
  const config = { responsive: true, displayModeBar: false, scrollZoom: false };

  const coloured = (value, style) => {
    if (Array.isArray(value)) return value.map((one) => coloured(one, style));
    if (value === null || typeof value !== "object") return value;
    const copy = {};
    for (const [name, one] of Object.entries(value)) {
      copy[name] = /color$/.test(name) && typeof one === "string" && one.startsWith("@")
        ? style.getPropertyValue("--" + one.slice(1)).trim()
        : name === "x" || name === "y" ? one : coloured(one, style);
    }
    return copy;
  };

  const draw = (host) => {
    const spec = specs[host.dataset.figure];
    const style = getComputedStyle(document.documentElement);
    host.hidden = false;
    return Plotly.react(host, coloured(spec.data, style), coloured(narrow.matches ? spec.narrow : spec.wide, style), config)
      .then(() => { host.parentElement.classList.add("drawn"); drawn.add(host); })
      .catch(() => { host.hidden = true; });
  };

  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      seen.unobserve(entry.target);
      draw(entry.target.querySelector(".interactive"));
    }
  }, { rootMargin: "300px" });
  for (const figure of document.querySelectorAll("figure")) seen.observe(figure);

  const redraw = () => { for (const host of drawn) draw(host); };
  narrow.addEventListener("change", redraw);
  dark.addEventListener("change", redraw);
})();`;
