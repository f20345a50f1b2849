import { fetchAnswer, Refused } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

/** One answer about power events, asked when its page opens and again when somebody comes back to it. */
export class ReviewDesk<A extends { readonly serverTime: string }> {
  answer = $state.raw<A | null>(null);
  refused = $state.raw<Refused | null>(null);

  follow(path: string, words: Readonly<Record<string, string | null>> = {}): () => void {
    const stop = new AbortController();
    void this.#fetch(path, words, stop.signal);
    return () => stop.abort();
  }

  async #fetch(
    path: string,
    words: Readonly<Record<string, string | null>>,
    signal: AbortSignal,
  ): Promise<void> {
    this.refused = null;
    try {
      const answer = await fetchAnswer<A>(path, words, signal);
      serverClock.set(answer.serverTime);
      this.answer = answer;
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.answer = null;
      this.refused = error;
    }
  }
}
