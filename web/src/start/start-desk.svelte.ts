import { entriesAt } from '../../../shared/edit/change.ts';
import type { OnCallAnswer } from '../../../shared/wire/on-call-answer.ts';
import type { SiteItem, SiteList } from '../../../shared/wire/service.ts';
import type { SiteStatus } from '../../../shared/wire/status.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { who } from '../account/who.svelte.ts';

/** How far a site is, read from what is there: nothing is remembered of steps. */
export interface SiteProgress {
  readonly site: SiteItem;
  readonly gateways: number;
  readonly points: number;
  readonly isHeard: boolean;
}

const AGAIN_MS = 5_000;
/** told of one by one; the board tells of the others */
const MOST_SITES = 20;

export class StartDesk {
  sites = $state.raw<readonly SiteProgress[] | null>(null);
  all = $state.raw<readonly SiteItem[]>([]);
  /** somebody is on call and a policy says whom to ask; null: not known to this reader */
  isOnCall = $state.raw<boolean | null>(null);
  refused = $state.raw<Refused | null>(null);

  follow(): () => void {
    return askAgain((signal) => this.#load(signal), AGAIN_MS);
  }

  async #load(signal: AbortSignal): Promise<void> {
    try {
      const { items } = await fetchAnswer<SiteList>('/sites', { limit: 1000 }, signal);
      const own = items.filter(({ demonstration }) => !demonstration).slice(0, MOST_SITES);
      this.sites = await Promise.all(own.map((site) => progressOf(site, signal)));
      this.all = items;
      if (who.may('see-on-call')) {
        const { rosters, policies } = await onCall(signal);
        this.isOnCall = rosters > 0 && policies > 0;
      }
      this.refused = null;
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}

async function progressOf(site: SiteItem, signal: AbortSignal): Promise<SiteProgress> {
  const path = `/sites/${encodeURIComponent(site.id)}`;
  const document = await fetchAnswer<unknown>(path, {}, signal);
  const { dataAt } = await fetchAnswer<SiteStatus>(`${path}/status`, {}, signal);
  const devices = ['spaces', 'panels', 'units'].flatMap((list) => entriesAt(document, [list]));
  const points = [document, ...devices].reduce<number>(
    (sum, device) => sum + entriesAt(device, ['points']).length,
    0,
  );
  return { site, gateways: entriesAt(document, ['gateways']).length, points, isHeard: dataAt !== null };
}

async function onCall(signal: AbortSignal): Promise<{ rosters: number; policies: number }> {
  const { rosters } = await fetchAnswer<OnCallAnswer>('/on-call', {}, signal);
  const { items } = await fetchAnswer<{ items: unknown[] }>('/policies', {}, signal);
  return { rosters: rosters.length, policies: items.length };
}
