import { formatInstant } from '../../../shared/base/instant.ts';
import { who } from '../account/who.svelte.ts';
import { Refused, sendJson } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { keep, kept } from '../page/device-store.ts';
import { bodyOf, isWorthAgain, readWishes, type Wish, type WishPath } from './wish.ts';

/**
 * Wishes on their way to the server, kept on this device until it has answered: in the order in which they were pressed, one
 * at a time. Another tab may send the same ones; their ids make that once.
 */
const KEY = 'wishes';
const AGAIN_MS = 5_000;
/** so many are kept; more are refused */
const BOUND = 200;

class Wishes {
  list = $state.raw<readonly Wish[]>(readWishes(kept(KEY)));
  #sending: Promise<void> | null = null;

  /** Answers why not, where the server has said no at once; null: done, or waiting to be sent. */
  async ask(alarm: string, path: WishPath, body: Wish['body']): Promise<string | null> {
    const { actor } = who;
    if (actor === null) return 'Sign in first.';
    if (this.list.length >= BOUND) return 'Too much waits to be sent already.';
    const command = crypto.randomUUID();
    const saidAt = formatInstant(serverClock.exactly());
    this.#change((list) => [
      ...list,
      { command, person: actor.id, alarm, path, body, saidAt, refused: null },
    ]);
    await this.send();
    const refused = this.list.find((wish) => wish.command === command)?.refused ?? null;
    if (refused !== null) this.putAway(command);
    return refused;
  }

  /** Of whoever is signed in, at an alarm; those that were refused among them. */
  of(alarm: string): readonly Wish[] {
    const id = who.actor?.id ?? null;
    return this.list.filter((wish) => wish.alarm === alarm && wish.person === id);
  }

  putAway(command: string): void {
    this.#change((list) => list.filter((wish) => wish.command !== command));
  }

  send(): Promise<void> {
    const before = this.#sending ?? Promise.resolve();
    const mine = before.then(() => this.#sendAll());
    this.#sending = mine;
    return mine;
  }

  async #sendAll(): Promise<void> {
    for (const wish of this.#waiting()) {
      const went = await this.#sendOne(wish);
      if (!went) return;
    }
  }

  #waiting(): readonly Wish[] {
    const id = who.actor?.id ?? null;
    return this.list.filter(({ person, refused }) => person === id && refused === null);
  }

  /** False: not now. */
  async #sendOne(wish: Wish): Promise<boolean> {
    try {
      await sendJson('POST', `/alarms/${encodeURIComponent(wish.alarm)}/${wish.path}`, bodyOf(wish));
      this.putAway(wish.command);
      return true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      if (isWorthAgain(error.status)) return false;
      const says = error.message;
      this.#change((list) =>
        list.map((one) => (one.command === wish.command ? { ...one, refused: says } : one)),
      );
      return true;
    }
  }

  #change(by: (list: readonly Wish[]) => readonly Wish[]): void {
    this.list = by(this.list);
    keep(KEY, this.list.length === 0 ? null : JSON.stringify(this.list));
  }

  /** Sends what waits as soon as the server can be reached again. */
  watch(): () => void {
    const again = (): void => {
      if (this.#waiting().length > 0) void this.send();
    };
    const other = (event: StorageEvent): void => {
      if (event.key === KEY) this.list = readWishes(event.newValue);
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
export const wishes = new Wishes();
