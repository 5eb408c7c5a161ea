/** What the page cannot do without and this browser lacks, in plain words. */
export function missingAbilities(): string[] {
  const needed: readonly (readonly [string, boolean])[] = [
    ["background threads", typeof Worker === "function"],
    ["streams of files", typeof Blob === "function" && typeof Blob.prototype.stream === "function"],
    ["splitting of words", typeof Intl === "object" && "Segmenter" in Intl],
    ["unpacking of data", typeof DecompressionStream === "function"],
  ];
  return needed.filter(([, there]) => !there).map(([name]) => name);
}

/** Whether the camera can be used here; a sentence saying why not where it cannot. */
export function cameraProblem(): string | null {
  if (!isSecureContext) {
    return "The camera needs a secure address (https, or this same device). Film with the camera app and choose the clip instead.";
  }
  if (navigator.mediaDevices?.getUserMedia === undefined || typeof MediaRecorder !== "function") {
    return "This browser cannot record from the camera. Film with the camera app and choose the clip instead.";
  }
  return null;
}
