/** All tabs and windows of one browser keep their work in one place, so one of them at a time has it. */
const NAME = "busdip-work";
/** A page that is being left lets go within that; longer means another one. */
const LEAVING_MS = 500;
/** A tab that lives says that it does at once. */
const SIGN_OF_LIFE_MS = 300;
/** A tab puts its work away within that; one that the device has put to sleep does not answer at all. */
const PUTTING_AWAY_MS = 2_000;

export interface TurnEvents {
  /** This tab has the work now. */
  readonly onMine: () => void;
  /** Another tab has it. */
  readonly onElsewhere: () => void;
  /** Another tab asks for it: false where this one cannot stop now, else true once all is put away. */
  readonly letGo: () => Promise<boolean>;
}

type Question = "there?" | "give";
type Reply = "here" | "given" | "not-now";
type Message = { readonly question: Question; readonly from: string } | { readonly reply: Reply; readonly to: string };

/** One tab's part in taking turns with the work. */
export class Turn {
  readonly #me = crypto.getRandomValues(new Uint32Array(3)).join("-");
  readonly #channel: BroadcastChannel | null =
    typeof BroadcastChannel === "function" ? new BroadcastChannel(NAME) : null;
  /** Only secure addresses have them; elsewhere a tab asks whether another one lives. */
  readonly #locks: LockManager | undefined = navigator.locks;
  readonly #events: TurnEvents;
  #isMine = false;
  /** Which request for the lock counts; an earlier one that ends is no news. */
  #holding = 0;
  #waiting = new AbortController();

  constructor(events: TurnEvents) {
    this.#events = events;
    this.#channel?.addEventListener("message", ({ data }: MessageEvent<Message>) => {
      if ("question" in data && this.#isMine) void this.#reply(data.question, data.from);
    });
  }

  get isMine(): boolean {
    return this.#isMine;
  }

  /** Takes the work where no other tab has it, or as soon as that one is closed. */
  async begin(): Promise<void> {
    if (this.#locks === undefined) {
      if ((await this.#ask("there?", SIGN_OF_LIFE_MS)) === null) this.#become();
      else this.#events.onElsewhere();
      return;
    }
    setTimeout(() => {
      if (!this.#isMine) this.#events.onElsewhere();
    }, LEAVING_MS);
    this.#wait();
  }

  /** Takes the work from the tab that has it; false where that one cannot stop now. */
  async take(): Promise<boolean> {
    if ((await this.#ask("give", PUTTING_AWAY_MS)) === "not-now") return false;
    if (this.#locks === undefined) this.#become();
    else {
      this.#waiting.abort();
      this.#hold({ steal: true });
    }
    return true;
  }

  /** Told where what was kept turns out to be another tab's. */
  lost(): void {
    if (!this.#isMine) return;
    this.#isMine = false;
    this.#events.onElsewhere();
  }

  #wait(): void {
    this.#waiting = new AbortController();
    this.#hold({ signal: this.#waiting.signal });
  }

  /** Has the lock until the page is left or another tab takes it. */
  #hold(how: LockOptions): void {
    const holding = ++this.#holding;
    const forEver = new Promise<never>(() => {});
    this.#locks!.request(NAME, how, () => {
      this.#become();
      return forEver;
    }).catch(() => {
      if (holding !== this.#holding) return;
      this.lost();
      this.#wait();
    });
  }

  #become(): void {
    this.#isMine = true;
    this.#events.onMine();
  }

  async #reply(question: Question, to: string): Promise<void> {
    let reply: Reply = "here";
    if (question === "give") {
      reply = (await this.#events.letGo()) ? "given" : "not-now";
      if (reply === "given") this.lost();
    }
    this.#channel?.postMessage({ reply, to } satisfies Message);
  }

  /** What the tab that has the work replies; null where none does. */
  #ask(question: Question, patienceMs: number): Promise<Reply | null> {
    const channel = this.#channel;
    if (channel === null) return Promise.resolve(null);
    return new Promise((done) => {
      const end = (reply: Reply | null): void => {
        clearTimeout(timer);
        channel.removeEventListener("message", hear);
        done(reply);
      };
      const hear = ({ data }: MessageEvent<Message>): void => {
        if ("reply" in data && data.to === this.#me) end(data.reply);
      };
      const timer = setTimeout(() => end(null), patienceMs);
      channel.addEventListener("message", hear);
      channel.postMessage({ question, from: this.#me } satisfies Message);
    });
  }
}
