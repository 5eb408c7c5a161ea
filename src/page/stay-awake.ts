/** Keeps the screen lit where the device can, until the returned function is called. */
export function stayAwake(): () => void {
  let lock: WakeLockSentinel | null = null;
  let over = false;
  const take = async (): Promise<void> => {
    if (document.visibilityState !== "visible" || navigator.wakeLock === undefined) return;
    lock = await navigator.wakeLock.request("screen").catch(() => null);
    if (over) void lock?.release();
  };
  // The device lets go of it when the page is hidden.
  document.addEventListener("visibilitychange", take);
  void take();
  return () => {
    over = true;
    document.removeEventListener("visibilitychange", take);
    void lock?.release();
  };
}
