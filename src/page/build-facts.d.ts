/** Set by the build: version of the program, and SHA-256 over the program files of the judgement. */
declare const __SOFTWARE_VERSION__: string;
declare const __JUDGEMENT_SHA256__: string;

declare module "*.css";
declare module "*?url" {
  const address: string;

  // biome-ignore lint/style/noDefaultExport: this is how the build hands over the address of a file
  export default address;
}
