/** The option that names the history, for every command that can use one. */
export const STORE_FLAG = "--store <where>";
export const STORE_HELP = "file or server address of the history; else BUSDIP_STORE, else a file in your data folder";
