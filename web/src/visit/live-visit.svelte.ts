import type { AlarmAsk } from '../../../shared/wire/alarm-answer.ts';
import type { EarlierVisit, EarlierVisits, VisitAnswer } from '../../../shared/wire/visit-answer.ts';
import { askAlarm, type AskWords } from '../alarm/ask-alarm.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import type { Wish, WishPath } from './wish.ts';
import { wishes } from './wishes.svelte.ts';

/** An alarm for whoever goes there: asked for again every five seconds, when an alarm or an event has changed, and after everything that is done about it. */
const AGAIN_MS = 5_000;
const SOON_MS = 300;
const EARLIER_AGAIN_MS = 120_000;

export class LiveVisit {
  readonly id: string;
  #soon: ReturnType<typeof setTimeout> | undefined;
  visit = $state.raw<VisitAnswer | null>(null);
  earlier = $state.raw<readonly EarlierVisit[]>([]);
  refused = $state.raw<Refused | null>(null);

  constructor(id: string) {
    this.id = id;
  }

  follow(): () => void {
    const leave = askAgain((signal) => this.#fetch(signal), AGAIN_MS);
    const leaveEarlier = askAgain((signal) => this.#fetchEarlier(signal), EARLIER_AGAIN_MS);
    return () => {
      clearTimeout(this.#soon);
      this.#soon = undefined;
      leave();
      leaveEarlier();
    };
  }

  /** What the site's room tells of alarms and events is asked about at once. */
  heard(frame: Frame): void {
    if (frame.kind !== 'alarm' && frame.kind !== 'event') return;
    this.#soon ??= setTimeout(() => {
      this.#soon = undefined;
      void this.#fetch();
    }, SOON_MS);
  }

  /** Answers why not; null: done, or waiting to be sent. */
  async wish(path: WishPath, body: Wish['body'] = {}): Promise<string | null> {
    const refused = await wishes.ask(this.id, path, body);
    await this.#fetch();
    return refused;
  }

  /** What waits for no connection: shelving and the like. */
  async ask(ask: AlarmAsk, words: AskWords = {}): Promise<string | null> {
    if (ask === 'accept' || ask === 'note' || ask === 'close') return this.wish(ask, words);
    try {
      await askAlarm(this.id, ask, words);
      await this.#fetch();
      return null;
    } catch (error) {
      if (error instanceof Refused) return error.message;
      throw error;
    }
  }

  get #path(): string {
    return `/alarms/${encodeURIComponent(this.id)}`;
  }

  async #fetch(signal?: AbortSignal): Promise<void> {
    try {
      this.visit = await fetchAnswer<VisitAnswer>(`${this.#path}/visit`, {}, signal);
      this.refused = null;
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
    if (this.visit && this.refused === null) serverClock.set(this.visit.serverTime);
  }

  async #fetchEarlier(signal: AbortSignal): Promise<void> {
    try {
      this.earlier = (await fetchAnswer<EarlierVisits>(`${this.#path}/earlier`, {}, signal)).items;
    } catch (error) {
      if (!signal.aborted && !(error instanceof Refused)) throw error;
    }
  }
}
