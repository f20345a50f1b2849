import type { SessionAnswer, TokenAnswer } from '../../../shared/wire/account.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** Where one is signed in, and the tokens of one's programs. */
export class OwnAccount {
  sessions = $state.raw<readonly SessionAnswer[] | null>(null);
  tokens = $state.raw<readonly TokenAnswer[] | null>(null);
  refused = $state.raw<Refused | null>(null);

  async fetch(): Promise<void> {
    try {
      this.sessions = (await fetchAnswer<{ items: SessionAnswer[] }>('/account/sessions')).items;
      this.tokens = (await fetchAnswer<{ items: TokenAnswer[] }>('/account/tokens')).items;
      this.refused = null;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
