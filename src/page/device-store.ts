const DATABASE = "busdip";
const THINGS = "things";
/** Name under which stands which tab may write. */
const WRITER = "writer";

/** Things kept on the device by name; nothing here is ever sent anywhere. */
export interface DeviceStore {
  /** Whether things outlast the page. */
  readonly lasting: boolean;
  /** From now on this tab alone may write; `onLost` is told where a later one has said the same and a write was refused. */
  claim(onLost: () => void): Promise<void>;
  get<T>(name: string): Promise<T | undefined>;
  set(name: string, thing: unknown): Promise<void>;
  /** Lets go of everything whose name is not in the list. */
  keepOnly(names: ReadonlySet<string>): Promise<void>;
}

/** The device's store; where the browser forbids one (private windows), one that lasts as long as the page. */
export async function openDeviceStore(): Promise<DeviceStore> {
  try {
    return inDatabase(await openDatabase());
  } catch {
    return inMemory();
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
  /** Null where nothing could be said of who may write, as on a full device. */
  let writer: string | null = null;
  let tellLost = (): void => {};
  /** The things, to be written in one go with the look at who may. */
  const own = async (): Promise<IDBObjectStore> => {
    const store = things("readwrite");
    if (writer === null || (await settled(store.get(WRITER))) === writer) return store;
    tellLost();
    throw new Error("Another tab has the work");
  };
  return {
    lasting: true,
    async claim(onLost) {
      const name = crypto.getRandomValues(new Uint32Array(3)).join("-");
      tellLost = onLost;
      writer = null;
      await settled(things("readwrite").put(name, WRITER));
      writer = name;
    },
    get: (name) => settled(things("readonly").get(name)),
    set: async (name, thing) => {
      await settled((await own()).put(thing, name));
    },
    async keepOnly(names) {
      const store = await own();
      for (const key of await settled(store.getAllKeys())) {
        const name = String(key);
        if (name !== WRITER && !names.has(name)) store.delete(name);
      }
    },
  };
}

function inMemory(): DeviceStore {
  const kept = new Map<string, unknown>();
  return {
    lasting: false,
    claim: async () => {},
    get: async <T>(name: string) => kept.get(name) as T | undefined,
    set: async (name, thing) => {
      kept.set(name, thing);
    },
    async keepOnly(names) {
      for (const name of kept.keys()) if (!names.has(name)) kept.delete(name);
    },
  };
}
