import { MILLISECOND, SECOND, type Instant } from '../../../shared/base/instant.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';

/**
 * Server time on this page: countdowns run on it, whatever the device's own clock says. Kept against the browser's
 * steady clock; ticks as each server second begins.
 */
const FAR_OFF = 2 * SECOND;

class ServerClock {
  #ahead: number | null = null;
  now = $state<Instant>(Date.now() * MILLISECOND);

  /** Takes the server's clock from an answer or a frame. The least delayed tells best; one far off sets it anew. */
  set(serverTime: string): void {
    const ahead = readInstant(serverTime) - performance.now() * MILLISECOND;
    const held = this.#ahead;
    this.#ahead = held === null || ahead < held - FAR_OFF ? ahead : Math.max(ahead, held);
    if (held === null) this.now = this.exactly();
  }

  exactly(): Instant {
    return Math.round(
      this.#ahead === null ? Date.now() * MILLISECOND : this.#ahead + performance.now() * MILLISECOND,
    );
  }

  run(): () => void {
    let timer: ReturnType<typeof setTimeout>;
    const tick = () => {
      const now = this.exactly();
      this.now = now;
      timer = setTimeout(tick, 1000 - (Math.floor(now / MILLISECOND) % 1000) + 5);
    };
    tick();
    return () => clearTimeout(timer);
  }
}
export const serverClock = new ServerClock();
