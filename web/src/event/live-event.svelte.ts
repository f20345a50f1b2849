import type { EventAnswer } from '../../../shared/wire/event-answer.ts';
import type { SiteStatus } from '../../../shared/wire/status.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { readEvent, readSite } from '../view/read-answer.ts';
import type { EventView, SiteView } from '../view/site-view.ts';

/** One event and the names around it. Asked for again every ten seconds: an event may be amended for days. */
const AGAIN_MS = 10_000;

export class LiveEvent {
  readonly id: string;
  event = $state.raw<EventView | null>(null);
  site = $state.raw<SiteView | null>(null);
  refused = $state.raw<Refused | null>(null);

  constructor(id: string) {
    this.id = id;
  }

  follow(): () => void {
    return askAgain((signal) => this.#ask(signal), AGAIN_MS);
  }

  async #ask(signal: AbortSignal): Promise<void> {
    try {
      const event = await fetchAnswer<EventAnswer>(`/events/${encodeURIComponent(this.id)}`, {}, signal);
      if (this.site === null) {
        const path = `/sites/${encodeURIComponent(event.site)}/status`;
        const status = await fetchAnswer<SiteStatus>(path, {}, signal);
        serverClock.set(status.serverTime);
        this.site = readSite(status);
      }
      this.event = readEvent(event);
      this.refused = null;
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
