import { useLayoutEffect, useState } from "preact/hooks";

const SCREENS = ["start", "recording", "clip", "switching", "answer", "loads", "history"] as const;
export type Screen = (typeof SCREENS)[number];

/** Goes to a screen; the browser's own way back leads to the one before. */
export function goTo(screen: Screen): void {
  if (currentScreen() === screen) return;
  location.hash = screen;
}

function currentScreen(): Screen {
  const named = location.hash.slice(1);
  return SCREENS.find((screen) => screen === named) ?? "start";
}

/** The screen that the address names; draws anew when it changes, from its top. */
export function useScreen(): Screen {
  const [screen, setScreen] = useState(currentScreen);
  // At once: an address that changes before the first picture is told to nobody.
  useLayoutEffect(() => {
    const follow = () => {
      setScreen(currentScreen());
      scrollTo(0, 0);
    };
    addEventListener("hashchange", follow);
    return () => removeEventListener("hashchange", follow);
  }, []);
  return screen;
}
