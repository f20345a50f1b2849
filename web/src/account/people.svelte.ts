import type { PersonAnswer, PersonList } from '../../../shared/wire/account.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** Everybody who has an account here, by name, a page at a time. */
export class People {
  items = $state.raw<readonly PersonAnswer[]>([]);
  loaded = $state(false);
  refused = $state.raw<Refused | null>(null);
  cursor = $state.raw<string | null>(null);

  fetch(): Promise<void> {
    return this.#ask(null);
  }
  fetchMore(): Promise<void> {
    return this.#ask(this.cursor);
  }

  async #ask(cursor: string | null): Promise<void> {
    try {
      const list = await fetchAnswer<PersonList>('/people', { cursor });
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
