import type { AlarmAsk, AlarmWithJournal } from '../../../shared/wire/alarm-answer.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { askAlarm, type AskWords } from './ask-alarm.ts';

/** One alarm with its journal. Asked for again every five seconds, and after everything that is done about it. */
const AGAIN_MS = 5_000;

export class LiveAlarm {
  readonly id: string;
  alarm = $state.raw<AlarmWithJournal | null>(null);
  refused = $state.raw<Refused | null>(null);

  constructor(id: string) {
    this.id = id;
  }

  follow(): () => void {
    return askAgain((signal) => this.#fetch(signal), AGAIN_MS);
  }

  /** Answers why not; null: done. */
  async ask(ask: AlarmAsk, words: AskWords = {}): Promise<string | null> {
    try {
      await askAlarm(this.id, ask, words);
      await this.#fetch();
      return null;
    } catch (error) {
      if (error instanceof Refused) return error.message;
      throw error;
    }
  }

  async #fetch(signal?: AbortSignal): Promise<void> {
    try {
      const path = `/alarms/${encodeURIComponent(this.id)}`;
      this.alarm = await fetchAnswer<AlarmWithJournal>(path, {}, signal);
      this.refused = null;
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
