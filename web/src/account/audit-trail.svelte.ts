import type { AuditAnswer, AuditList } from '../../../shared/wire/account.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** Who changed what, newest first, a page at a time. */
export class AuditTrail {
  items = $state.raw<readonly AuditAnswer[]>([]);
  loaded = $state(false);
  refused = $state.raw<Refused | null>(null);
  cursor = $state.raw<string | null>(null);

  async fetch(words: Readonly<Record<string, string | null>>, cursor: string | null = null): Promise<void> {
    try {
      const list = await fetchAnswer<AuditList>('/audit', { ...words, cursor, limit: 50 });
      this.items = cursor === null ? list.items : [...this.items, ...list.items];
      this.cursor = list.cursor;
      this.loaded = true;
      this.refused = null;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
