/** Lets the service worker keep the page's files once the page is in use; without one the page needs a network. */
export function keepForOffline(): void {
  if (!("serviceWorker" in navigator) || !isSecureContext) return;
  const register = () => navigator.serviceWorker.register("./service-worker.js").catch(() => {});
  if (document.readyState === "complete") void register();
  else addEventListener("load", () => void register(), { once: true });
}
