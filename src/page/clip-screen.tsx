import type { ScreenProps } from "./screen-props.js";

export function ClipScreen({ store }: ScreenProps) {
  return <p>{store.work.file === null ? "There is no clip yet." : "Clips are not read yet."}</p>;
}
