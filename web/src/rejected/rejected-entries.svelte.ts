import type { RejectedAnswer, RejectedList } from '../../../shared/wire/service.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** What was set aside, newest first, by pages; asked for again every ten seconds while nothing older is open. */
interface Asked {
  readonly topic: string;
  readonly reason: string;
}
const PAGE = 50;
const AGAIN_MS = 10_000;

export class RejectedEntries {
  items = $state.raw<readonly RejectedAnswer[]>([]);
  loaded = $state(false);
  refused = $state.raw<Refused | null>(null);
  #cursor = $state.raw<string | null>(null);

  get more(): boolean {
    return this.#cursor !== null;
  }

  ask(asked: Asked): () => void {
    const stop = new AbortController();
    let timer: ReturnType<typeof setTimeout>;
    const again = async (): Promise<void> => {
      await this.#fetch(asked, null, stop.signal);
      timer = setTimeout(() => void (stop.signal.aborted || this.#older ? null : again()), AGAIN_MS);
    };
    this.#older = false;
    void again();
    return () => {
      stop.abort();
      clearTimeout(timer);
    };
  }

  #older = false;

  async askMore(asked: Asked): Promise<void> {
    this.#older = true;
    await this.#fetch(asked, this.#cursor);
  }

  async #fetch({ topic, reason }: Asked, cursor: string | null, signal?: AbortSignal): Promise<void> {
    try {
      const words = { topic: topic || null, reason: reason || null, cursor, limit: PAGE };
      const list = await fetchAnswer<RejectedList>('/rejected', words, signal);
      this.items = cursor === null ? list.items : [...this.items, ...list.items];
      this.#cursor = list.cursor;
      this.loaded = true;
      this.refused = null;
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
