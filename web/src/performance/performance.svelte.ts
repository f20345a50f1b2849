import type { PerformanceAnswer, SuggestionsAnswer } from '../../../shared/wire/performance-answer.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** How alarms perform, asked once for each opening; what other delays would have spared follows, for it takes longer. */
export class Performance {
  answer = $state.raw<PerformanceAnswer | null>(null);
  suggestions = $state.raw<SuggestionsAnswer | null>(null);
  refused = $state.raw<Refused | null>(null);
  unsuggested = $state.raw<Refused | null>(null);

  follow(site: string | null): () => void {
    const stop = new AbortController();
    void this.#fetch(site, stop.signal);
    return () => stop.abort();
  }

  async #fetch(site: string | null, signal: AbortSignal): Promise<void> {
    [this.answer, this.suggestions, this.refused, this.unsuggested] = [null, null, null, null];
    this.answer = await this.#asked<PerformanceAnswer>('/alarms/performance', { site }, signal, (refused) => {
      this.refused = refused;
    });
    if (site === null || this.answer === null) return;
    const path = `/sites/${encodeURIComponent(site)}/alarm-suggestions`;
    this.suggestions = await this.#asked<SuggestionsAnswer>(path, {}, signal, (refused) => {
      this.unsuggested = refused;
    });
  }

  async #asked<A>(
    path: string,
    words: Readonly<Record<string, string | null>>,
    signal: AbortSignal,
    refuse: (refused: Refused) => void,
  ): Promise<A | null> {
    try {
      return await fetchAnswer<A>(path, words, signal);
    } catch (error) {
      if (signal.aborted) return null;
      if (!(error instanceof Refused)) throw error;
      refuse(error);
      return null;
    }
  }
}
