import type { AccountAnswer } from '../../../shared/wire/account.ts';
import { may, type Action, type Actor } from '../../../shared/wire/may.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { comeBack } from '../net/live.ts';
import { whenShutOut } from '../net/shut-out.ts';

/**
 * Who reads this page, and what they may: asked once at the start, and again whenever the server has refused this page as
 * nobody's. What may be done is read from the server's own table; the server asks it again, whatever the page shows.
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
    const leave = whenShutOut(() => void ask());
    return () => {
      stop.abort();
      clearTimeout(timer);
      leave();
    };
  }
}
export const who = new Who();
