import { formatInstant } from '../../../shared/base/instant.ts';
import { who } from '../account/who.svelte.ts';
import { Refused, sendJson } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { keep, kept } from './device-store.ts';
import { isWorthAgain, type Waiting } from './waiting.ts';

/**
 * What was pressed, on its way to the server, kept on this device until it has answered: in the order in which it was pressed,
 * one at a time. Another tab may send the same; ids make that once. While something waits it is never shown as done.
 */
export interface OutboxOptions<W extends Waiting> {
  /** under which it is kept on this device */
  readonly key: string;
  /** what was kept; what isn't of the kind is left out */
  readonly read: (text: string | null) => W[];
  readonly sent: (one: W) => { readonly path: string; readonly body: unknown };
}

const AGAIN_MS = 5_000;
/** so many are kept; more are refused */
const BOUND = 200;

export class Outbox<W extends Waiting> {
  readonly #options: OutboxOptions<W>;
  list = $state.raw<readonly W[]>([]);
  #sending: Promise<void> | null = null;

  constructor(options: OutboxOptions<W>) {
    this.#options = options;
    this.list = options.read(kept(options.key));
  }

  /** Answers why not, where the server has said no at once; null: done, or waiting to be sent. */
  async put(make: (basis: Waiting) => W): Promise<string | null> {
    const { actor } = who;
    if (actor === null) return 'Sign in first.';
    if (this.list.length >= BOUND) return 'Too much waits to be sent already.';
    const command = crypto.randomUUID();
    const saidAt = formatInstant(serverClock.exactly());
    this.#change((list) => [...list, make({ command, person: actor.id, saidAt, refused: null })]);
    await this.send();
    const refused = this.list.find((one) => one.command === command)?.refused ?? null;
    if (refused !== null) this.putAway(command);
    return refused;
  }

  /** Of whoever is signed in; those that were refused among them. */
  get own(): readonly W[] {
    const id = who.actor?.id ?? null;
    return this.list.filter(({ person }) => person === id);
  }

  putAway(command: string): void {
    this.#change((list) => list.filter((one) => one.command !== command));
  }

  send(): Promise<void> {
    const before = this.#sending ?? Promise.resolve();
    const mine = before.then(() => this.#sendAll());
    this.#sending = mine;
    return mine;
  }

  async #sendAll(): Promise<void> {
    for (const one of this.#waiting()) {
      const went = await this.#sendOne(one);
      if (!went) return;
    }
  }

  #waiting(): readonly W[] {
    return this.own.filter(({ refused }) => refused === null);
  }

  /** False: not now. */
  async #sendOne(one: W): Promise<boolean> {
    try {
      const { path, body } = this.#options.sent(one);
      await sendJson('POST', path, body);
      this.putAway(one.command);
      return true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      if (isWorthAgain(error.status)) return false;
      const refused = error.message;
      this.#change((list) =>
        list.map((other) => (other.command === one.command ? { ...other, refused } : other)),
      );
      return true;
    }
  }

  #change(by: (list: readonly W[]) => readonly W[]): void {
    this.list = by(this.list);
    keep(this.#options.key, this.list.length === 0 ? null : JSON.stringify(this.list));
  }

  /** Sends what waits as soon as the server can be reached again. */
  watch(): () => void {
    const again = (): void => {
      if (this.#waiting().length > 0) void this.send();
    };
    const other = (event: StorageEvent): void => {
      if (event.key === this.#options.key) this.list = this.#options.read(event.newValue);
    };
    const timer = setInterval(again, AGAIN_MS);
    addEventListener('online', again);
    addEventListener('storage', other);
    return () => {
      clearInterval(timer);
      removeEventListener('online', again);
      removeEventListener('storage', other);
    };
  }
}
