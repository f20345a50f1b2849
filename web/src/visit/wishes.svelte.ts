import { Outbox } from '../page/outbox.svelte.ts';
import { bodyOf, readWishes, type Wish, type WishPath } from './wish.ts';

/** What somebody asked for at alarms, until the server has answered. */
class Wishes extends Outbox<Wish> {
  constructor() {
    super({
      key: 'wishes',
      read: readWishes,
      sent: (wish) => ({
        path: `/alarms/${encodeURIComponent(wish.alarm)}/${wish.path}`,
        body: bodyOf(wish),
      }),
    });
  }

  /** Answers why not, where the server has said no at once; null: done, or waiting to be sent. */
  ask(alarm: string, path: WishPath, body: Wish['body']): Promise<string | null> {
    return this.put((basis) => ({ ...basis, alarm, path, body }));
  }

  /** Of whoever is signed in, at an alarm; those that were refused among them. */
  of(alarm: string): readonly Wish[] {
    return this.own.filter((wish) => wish.alarm === alarm);
  }
}
export const wishes = new Wishes();
