import type { ClockAnswer, ClockList } from '../../../shared/wire/clock-answer.ts';
import type { TelemetryAnswer } from '../../../shared/wire/telemetry.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

/** What is looked at; all of it stands in the address. */
export interface TelemetryAsked {
  readonly site: string | null;
  readonly state: string | null;
  readonly q: string | null;
}

const PAGE = 100;
const AGAIN_MS = 10_000;
const CLOCKS_AGAIN_MS = 60_000;

/** How telemetry comes in: asked again every ten seconds, with as many points as have been opened. */
export class TelemetryDesk {
  answer = $state.raw<TelemetryAnswer | null>(null);
  clocks = $state.raw<readonly ClockAnswer[]>([]);
  refused = $state.raw<Refused | null>(null);
  #shown = $state(PAGE);

  get isMore(): boolean {
    return this.answer?.cursor !== null;
  }

  /** One page more from the next answer on. */
  more(asked: TelemetryAsked): void {
    this.#shown += PAGE;
    void this.#fetch(asked);
  }

  ask(asked: TelemetryAsked): () => void {
    this.#shown = PAGE;
    const leave = askAgain((signal) => this.#fetch(asked, signal), AGAIN_MS);
    const leaveClocks = asked.site === null ? null : this.#askClocks(asked.site);
    return () => {
      leave();
      leaveClocks?.();
    };
  }

  #askClocks(site: string): () => void {
    this.clocks = [];
    return askAgain(async (signal) => {
      try {
        this.clocks = (
          await fetchAnswer<ClockList>(`/sites/${encodeURIComponent(site)}/clocks`, {}, signal)
        ).items;
      } catch (error) {
        if (!signal.aborted && !(error instanceof Refused)) throw error; // else asked again in a minute
      }
    }, CLOCKS_AGAIN_MS);
  }

  async #fetch({ site, state, q }: TelemetryAsked, signal?: AbortSignal): Promise<void> {
    try {
      let cursor: string | null = null;
      let whole: TelemetryAnswer | null = null;
      do {
        const limit = Math.min(500, this.#shown - (whole?.items.length ?? 0));
        const words = { site, state, q, cursor, limit };
        const answer: TelemetryAnswer = await fetchAnswer<TelemetryAnswer>('/telemetry', words, signal);
        whole = whole ? { ...answer, items: [...whole.items, ...answer.items] } : answer;
        cursor = answer.cursor;
      } while (cursor !== null && site !== null && whole.items.length < this.#shown);
      if (signal?.aborted) return;
      serverClock.set(whole.serverTime);
      this.answer = whole;
      this.refused = null;
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
