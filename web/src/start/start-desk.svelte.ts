import { entriesAt } from '../../../shared/edit/change.ts';
import type { GatewayAccess } from '../../../shared/wire/gateway-access.ts';
import type { OnCallAnswer } from '../../../shared/wire/on-call-answer.ts';
import type { ProofAnswer } from '../../../shared/wire/proof-answer.ts';
import type { SiteItem, SiteList } from '../../../shared/wire/service.ts';
import type { SiteStatus } from '../../../shared/wire/status.ts';
import { who } from '../account/who.svelte.ts';
import { begunSites } from '../edit/kept-edit.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import type { Progress, SiteProgress } from './steps.ts';

const AGAIN_MS = 5_000;
/** told of one by one; the board tells of the others */
const MOST_SITES = 20;

/** What the page of setting up knows, asked again while it is open. */
export class StartDesk {
  progress = $state.raw<Omit<Progress, 'hasAdministrator' | 'now'> | null>(null);
  all = $state.raw<readonly SiteItem[]>([]);
  /** sites that aren't told of one by one */
  untold = $state(0);
  refused = $state.raw<Refused | null>(null);

  follow(): () => void {
    return askAgain((signal) => this.#load(signal), AGAIN_MS);
  }

  lookAgain(): Promise<void> {
    return this.#load(new AbortController().signal);
  }

  async #load(signal: AbortSignal): Promise<void> {
    try {
      const { items } = await fetchAnswer<SiteList>('/sites', { limit: 1000 }, signal);
      const own = items.filter(({ demonstration }) => !demonstration);
      const sites = await Promise.all(own.slice(0, MOST_SITES).map((site) => progressOf(site, signal)));
      const onCall = who.may('see-on-call') ? await fetchAnswer<OnCallAnswer>('/on-call', {}, signal) : null;
      const begun = begunSites().filter(({ id }) => !items.some((site) => site.id === id));
      this.progress = { begun, sites, onCall };
      this.all = items;
      this.untold = own.length - sites.length;
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
  const isHeard = dataAt !== null;
  const mayAccess = !isHeard && who.may('see-gateways', site.id);
  const access = mayAccess ? await fetchAnswer<GatewayAccess>(`${path}/gateways`, {}, signal) : null;
  const proof = who.may('prove-sites', site.id)
    ? await fetchAnswer<ProofAnswer>(`${path}/proof`, {}, signal)
    : null;
  if (proof) serverClock.set(proof.serverTime);
  const devices = ['spaces', 'panels', 'units'].flatMap((list) => entriesAt(document, [list]));
  const points = [document, ...devices].reduce<number>(
    (sum, device) => sum + entriesAt(device, ['points']).length,
    0,
  );
  return { site, points, isHeard, access, proof };
}
