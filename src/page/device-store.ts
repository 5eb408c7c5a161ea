const DATABASE = "busdip";
const THINGS = "things";

/** Things kept on the device by name; nothing here is ever sent anywhere. */
export interface DeviceStore {
  get<T>(name: string): Promise<T | undefined>;
  set(name: string, thing: unknown): Promise<void>;
  /** Lets go of everything whose name is not in the list. */
  keepOnly(names: ReadonlySet<string>): Promise<void>;
}

/** The device's store; where the browser forbids one (private windows), one that lasts as long as the page. */
export async function openDeviceStore(): Promise<DeviceStore & { readonly lasting: boolean }> {
  try {
    return { ...inDatabase(await openDatabase()), lasting: true };
  } catch {
    return { ...inMemory(), lasting: false };
  }
}

function openDatabase(): Promise<IDBDatabase> {
  const request = indexedDB.open(DATABASE, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(THINGS);
  return settled(request);
}

function settled<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((done, fail) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => fail(request.error);
  });
}

function inDatabase(database: IDBDatabase): DeviceStore {
  const things = (mode: IDBTransactionMode) => database.transaction(THINGS, mode).objectStore(THINGS);
  return {
    get: (name) => settled(things("readonly").get(name)),
    set: async (name, thing) => {
      await settled(things("readwrite").put(thing, name));
    },
    async keepOnly(names) {
      const store = things("readwrite");
      for (const name of await settled(store.getAllKeys())) if (!names.has(String(name))) store.delete(name);
    },
  };
}

function inMemory(): DeviceStore {
  const kept = new Map<string, unknown>();
  return {
    get: async <T>(name: string) => kept.get(name) as T | undefined,
    set: async (name, thing) => {
      kept.set(name, thing);
    },
    async keepOnly(names) {
      for (const name of kept.keys()) if (!names.has(name)) kept.delete(name);
    },
  };
}
