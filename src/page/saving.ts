/** Hands a file to the person: the browser's own way of saving. */
export function saveFile(content: Blob, name: string): void {
  const address = URL.createObjectURL(content);
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

/** Whether the device can pass files on to another app. */
export function canShare(file: File): boolean {
  return typeof navigator.share === "function" && navigator.canShare?.({ files: [file] }) === true;
}

/** Passes a file on; a person who changes their mind is no fault. */
export async function share(file: File, title: string): Promise<void> {
  try {
    await navigator.share({ files: [file], title });
  } catch (fault) {
    if (!(fault instanceof DOMException && fault.name === "AbortError")) throw fault;
  }
}
