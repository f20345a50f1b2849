import type { CoolingAnswer } from '../../../shared/wire/cooling-answer.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** How a site is cooled, asked for again every minute: a day's counts and a fit don't move faster. */
const AGAIN_MS = 60_000;

export class LiveCooling {
  readonly site: string;
  answer = $state.raw<CoolingAnswer | null>(null);
  refused = $state.raw<Refused | null>(null);

  constructor(site: string) {
    this.site = site;
  }

  follow(): () => void {
    return askAgain((signal) => this.#fetch(signal), AGAIN_MS);
  }

  async #fetch(signal: AbortSignal): Promise<void> {
    try {
      const path = `/sites/${encodeURIComponent(this.site)}/cooling`;
      this.answer = await fetchAnswer<CoolingAnswer>(path, {}, signal);
      this.refused = null;
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
