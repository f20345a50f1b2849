import type {
  ChannelList,
  OnCallAnswer,
  PolicyAnswer,
  RosterAnswer,
} from '../../../shared/wire/on-call-answer.ts';
import type { RosterDocument } from '../../../shared/wire/on-call-document.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';

/** What the page of who is on call knows, and what it asks for. Asked again every ten seconds. */
const AGAIN_MS = 10_000;

export class OnCallDesk {
  now = $state.raw<OnCallAnswer | null>(null);
  rosters = $state.raw<readonly RosterAnswer[]>([]);
  policies = $state.raw<readonly PolicyAnswer[]>([]);
  refused = $state.raw<Refused | null>(null);
  /** of the last thing that was asked; null: it was done */
  unsaved = $state.raw<Refused | null>(null);

  name(person: string | null): string {
    if (person === null) return 'Nobody';
    // an owner may be no person of ours: this machine, a program, somebody whose account is shut
    const known = this.now?.people.find(({ id }) => id === person)?.name;
    return known ?? (/^[0-9a-f-]{36}$/.test(person) ? 'Somebody' : person);
  }

  follow(): () => void {
    return askAgain((signal) => this.load(signal), AGAIN_MS);
  }

  async load(signal?: AbortSignal): Promise<void> {
    try {
      const now = await fetchAnswer<OnCallAnswer>('/on-call', {}, signal);
      const each = now.rosters.map(({ id }) => fetchAnswer<RosterAnswer>(`/rosters/${id}`, {}, signal));
      const policies = await fetchAnswer<{ items: PolicyAnswer[] }>('/policies', {}, signal);
      this.rosters = await Promise.all(each);
      this.policies = policies.items;
      this.now = now;
      this.refused = null;
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  /** Every site by its name, for whom a policy may be. */
  async siteNames(): Promise<readonly { readonly id: string; readonly name: string }[]> {
    try {
      const { items } = await fetchAnswer<{ items: { id: string; name: string }[] }>('/sites', {
        limit: 1000,
      });
      return items.map(({ id, name }) => ({ id, name: name || id }));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
      return [];
    }
  }

  /** True: done. Otherwise `unsaved` says why not. */
  async ask(method: 'POST' | 'PUT' | 'DELETE', path: string, body?: unknown): Promise<boolean> {
    try {
      await sendJson(method, path, body);
      this.unsaved = null;
      await this.load();
      return true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.unsaved = error;
      return false;
    }
  }

  putRoster(id: string | null, name: string, document: RosterDocument): Promise<boolean> {
    return id === null
      ? this.ask('POST', '/rosters', { name, document })
      : this.ask('PUT', `/rosters/${id}`, { name, document });
  }
}

/** The channels of one person and what was sent by them. */
export class Channels {
  list = $state.raw<ChannelList | null>(null);
  refused = $state.raw<Refused | null>(null);
  /** a webhook's secret, shown once */
  secret = $state.raw<string | null>(null);

  async load(person: string): Promise<void> {
    try {
      this.list = await fetchAnswer<ChannelList>(`/people/${person}/channels`);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  /** True: done. */
  async ask(person: string, method: 'POST' | 'DELETE', path = '', body?: unknown): Promise<boolean> {
    try {
      const answer = await sendJson<{ secret?: string } | null>(
        method,
        `/people/${person}/channels${path}`,
        body,
      );
      this.secret = answer?.secret ?? null;
      this.refused = null;
      await this.load(person);
      return true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
      return false;
    }
  }
}
