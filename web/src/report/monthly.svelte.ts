import type { ReportAnswer } from '../../../shared/wire/report-answer.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** A month's report, asked once for each opening. What was read stays until what is asked anew has come. */
export class Monthly {
  answer = $state.raw<ReportAnswer | null>(null);
  refused = $state.raw<Refused | null>(null);
  isAsking = $state(true);

  follow(month: string, site: string | null): () => void {
    const stop = new AbortController();
    this.isAsking = true;
    void this.#fetch(month, site, stop.signal);
    return () => stop.abort();
  }

  async #fetch(month: string, site: string | null, signal: AbortSignal): Promise<void> {
    try {
      this.answer = await fetchAnswer<ReportAnswer>(
        `/reports/${encodeURIComponent(month)}`,
        { site },
        signal,
      );
      [this.refused, this.isAsking] = [null, false];
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      [this.answer, this.refused, this.isAsking] = [null, error, false];
    }
  }
}
