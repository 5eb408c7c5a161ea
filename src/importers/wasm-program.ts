import { InputError } from "./input-error.js";

/** Memory of a program in WebAssembly; its buffer is another one after it has grown. */
export interface WasmMemory {
  readonly buffer: ArrayBuffer;
  grow(pages: number): number;
}

export const WASM_PAGE_BYTES = 1 << 16;

/** The part of WebAssembly that is used; the types of Node 20 do not name its values. */
const { WebAssembly: machine } = globalThis as unknown as {
  readonly WebAssembly: {
    readonly Module: new (code: Uint8Array) => object;
    readonly Instance: new (module: object, imports?: object) => { readonly exports: object };
    readonly Memory: new (size: { readonly initial: number }) => WasmMemory;
  };
};

export function wasmMemory(bytes: number): WasmMemory {
  return new machine.Memory({ initial: Math.ceil(bytes / WASM_PAGE_BYTES) });
}

/**
 * What starts a program given in base64, as often as it is called; it is compiled once, when it is first needed.
 *
 * @throws {InputError} where an old browser cannot compile it.
 */
export function wasmProgram<Exports extends object>(code: string): (imports?: object) => Exports {
  let compiled: object | null = null;
  return (imports) => {
    compiled ??= compile(Uint8Array.from(atob(code), (sign) => sign.charCodeAt(0)));
    return new machine.Instance(compiled, imports).exports as Exports;
  };
}

function compile(code: Uint8Array): object {
  try {
    return new machine.Module(code);
  } catch {
    throw new InputError({
      problem: "this browser does not run WebAssembly with SIMD, in which pixels are summed",
      remedy: "use a browser of 2023 or later, or busdip on the command line",
    });
  }
}
