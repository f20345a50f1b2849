import type { AccountAnswer } from '../../../shared/wire/account.ts';
import { may, type Action, type Actor } from '../../../shared/wire/may.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { comeBack } from '../net/live.ts';
import { whenShutOut } from '../net/shut-out.ts';

/**
 * Who reads this page, and what they may: asked at the start, again once a service worker answers for the page, and whenever
 * the server has refused it as nobody's. What may be done is read from the server's own table; the server asks it again, whatever the page shows.
 */
const RETRY_MS = 2_000;

class Who {
  answer = $state.raw<AccountAnswer | null>(null);
  refused = $state.raw<Refused | null>(null);

  readonly actor: Actor | null = $derived.by(() => {
    const actor = this.answer?.actor;
    return actor ? { ...actor, sites: actor.sites ?? 'all' } : null;
  });

  /** Nobody has signed in, and somebody has to. */
  get isOut(): boolean {
    return this.answer !== null && this.answer.actor === null;
  }

  may(action: Action, site?: string): boolean {
    return may(this.actor, action, site);
  }

  /** Asks until it is answered; looks again when shut out. */
  watch(): () => void {
    const stop = new AbortController();
    let timer: ReturnType<typeof setTimeout>;
    const ask = async (): Promise<void> => {
      clearTimeout(timer);
      try {
        this.answer = await fetchAnswer<AccountAnswer>('/account', {}, stop.signal);
        this.refused = null;
        if (this.actor !== null) comeBack();
      } catch (error) {
        if (stop.signal.aborted) return;
        if (!(error instanceof Refused)) throw error;
        this.refused = error;
        timer = setTimeout(() => void ask(), RETRY_MS);
      }
    };
    void ask();
    const again = (): void => void ask();
    const leave = whenShutOut(again);
    // a first visit begins without a worker: asked once more, its answer is kept for when the server can't be reached
    const worker = navigator.serviceWorker as ServiceWorkerContainer | undefined;
    worker?.addEventListener('controllerchange', again);
    return () => {
      stop.abort();
      clearTimeout(timer);
      leave();
      worker?.removeEventListener('controllerchange', again);
    };
  }
}
export const who = new Who();
