import { useEffect, useState } from "preact/hooks";
import type { DeviceStore } from "./device-store.js";
import type { Judged } from "./judge-messages.js";
import { type KeptFile, NO_WORK, type Work } from "./work.js";

const MOST_STEPS_BACK = 30;

interface Story {
  readonly now: Work;
  readonly past: readonly Work[];
}

/** The work with its earlier states: each change can be undone, and a reload loses nothing. */
export class WorkStore {
  #story: Story = { now: NO_WORK, past: [] };
  readonly #heavy = new Map<string, unknown>();
  /** Kept already, and not yet part of any state of the work. */
  readonly #fresh = new Set<string>();
  #lastChange: string | null = null;
  readonly #listeners = new Set<() => void>();
  #saved: Promise<void> = Promise.resolve();
  #isClosed = false;
  #busyCount = 0;
  readonly #device: DeviceStore;

  private constructor(device: DeviceStore) {
    this.#device = device;
  }

  /** Brings back what the device kept; `onLost` is told where another tab writes there meanwhile. */
  static async open(device: DeviceStore, onLost: () => void): Promise<WorkStore> {
    await device.claim(onLost).catch(() => {});
    const store = new WorkStore(device);
    const kept = await store.#device.get<Story>("story").catch(() => undefined);
    if (kept !== undefined) store.#story = { now: { ...NO_WORK, ...kept.now }, past: kept.past ?? [] };
    const { judgedId } = store.work;
    if (judgedId !== null && (await store.#load(judgedId)) === undefined) {
      store.#story = { ...store.#story, now: { ...store.work, judgedId: null } };
    }
    return store;
  }

  get lasting(): boolean {
    return this.#device.lasting;
  }

  /** Whether something goes on that must not be broken off. */
  get isBusy(): boolean {
    return this.#busyCount > 0;
  }

  /** Something goes on that must not be broken off, until what is given back is called. */
  busy(): () => void {
    this.#busyCount++;
    return () => void this.#busyCount--;
  }

  /** Writes nothing more, as another tab goes on; resolves once everything so far is on the device. */
  close(): Promise<void> {
    this.#isClosed = true;
    return this.#saved;
  }

  get work(): Work {
    return this.#story.now;
  }

  get canUndo(): boolean {
    return this.#story.past.length > 0;
  }

  /**
   * Goes on from the present state of the work, drawn or not, to another; the present one can be had back.
   *
   * Changes that follow each other under the same `name`, as the steps of a key that is held, are taken back together.
   */
  change(step: (now: Work) => Work, name: string | null = null): void {
    const { now, past } = this.#story;
    const next = step(now);
    if (next === now) return;
    const goesOn = name !== null && name === this.#lastChange;
    this.#go({ now: next, past: goesOn ? past : [...past, now].slice(-MOST_STEPS_BACK) });
    this.#lastChange = name;
  }

  /** Takes the last change back. */
  async undo(): Promise<void> {
    const before = this.#story.past.at(-1);
    if (before === undefined) return;
    if (before.judgedId !== null) await this.#load(before.judgedId);
    this.#go({ now: before, past: this.#story.past.slice(0, -1) });
  }

  /** Keeps a file on the device. */
  async keepFile(file: Blob, name: string): Promise<KeptFile> {
    return { id: await this.#keep(file), name, byteCount: file.size };
  }

  async file(kept: KeptFile): Promise<Blob | undefined> {
    return (await this.#load(kept.id)) as Blob | undefined;
  }

  /** Keeps the judgement of a work and goes on to it; false where the work is another by now, whose answer it is not. */
  async judge(judged: Judged, of: Work): Promise<boolean> {
    const judgedId = await this.#keep(judged);
    if (this.work !== of) {
      this.#fresh.delete(judgedId);
      return false;
    }
    this.change((work) => ({ ...work, judgedId }));
    return true;
  }

  /** The judgement of the present work, where there is one. */
  get judged(): Judged | null {
    const { judgedId } = this.work;
    return judgedId === null ? null : ((this.#heavy.get(judgedId) as Judged | undefined) ?? null);
  }

  listen(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  async #keep(thing: unknown): Promise<string> {
    const id = `kept-${crypto.getRandomValues(new Uint32Array(3)).join("-")}`;
    this.#heavy.set(id, thing);
    this.#fresh.add(id);
    // A full device must not stop the work; it then lasts as long as the page.
    await this.#device.set(id, thing).catch(() => {});
    return id;
  }

  async #load(id: string): Promise<unknown> {
    if (!this.#heavy.has(id)) {
      const thing = await this.#device.get(id).catch(() => undefined);
      if (thing !== undefined) this.#heavy.set(id, thing);
    }
    return this.#heavy.get(id);
  }

  #go(story: Story): void {
    this.#story = story;
    this.#lastChange = null;
    if (!this.#isClosed) this.#saved = this.#saved.then(() => this.#save(story)).catch(() => {});
    for (const listener of this.#listeners) listener();
  }

  async #save(story: Story): Promise<void> {
    await this.#device.set("story", story);
    if (story !== this.#story) return;
    const used = [story.now, ...story.past].flatMap((work) => [
      work.file?.id,
      work.clipReadings?.id,
      work.judgedId ?? undefined,
    ]);
    const inStory = used.filter((id) => id !== undefined);
    for (const id of inStory) this.#fresh.delete(id);
    const names = new Set(["story", ...inStory, ...this.#fresh]);
    await this.#device.keepOnly(names);
    for (const id of this.#heavy.keys()) if (!names.has(id)) this.#heavy.delete(id);
  }
}

/** The work as it is now; draws anew when it changes. */
export function useWork(store: WorkStore): Work {
  const [work, setWork] = useState(store.work);
  useEffect(() => {
    const follow = () => setWork(store.work);
    // What changed between the first drawing and now was told to nobody.
    follow();
    return store.listen(follow);
  }, [store]);
  return work;
}
