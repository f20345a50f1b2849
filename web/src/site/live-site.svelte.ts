import type { SiteDocument } from '../../../shared/wire/site-document.ts';
import { resolveSite } from '../../../shared/wire/resolve-site.ts';
import type { Site } from '../../../shared/telemetry/site.ts';
import type { SiteStatus } from '../../../shared/wire/status.ts';
import { ChartRecord } from '../chart/chart-record.svelte.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, type Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { framed } from '../view/framed.ts';
import { readSite } from '../view/read-answer.ts';
import type { SiteView } from '../view/site-view.ts';
import { siteSource } from './site-rows.ts';

/** One site, live: what stands, its settings, and the record that its chart shows. */
export class LiveSite {
  readonly id: string;
  site = $state.raw<SiteView | null>(null);
  setup = $state.raw<Site | null>(null);
  address = $state<string | null>(null);
  record = $state.raw<ChartRecord | null>(null);
  refused = $state.raw<Refused | null>(null);

  constructor(id: string) {
    this.id = id;
  }

  follow(): () => void {
    const leave = followRoom<SiteStatus & { readonly document: SiteDocument }>({
      room: `site:${this.id}`,
      fetch: async (signal) => {
        const path = `/sites/${encodeURIComponent(this.id)}`;
        const document = await fetchAnswer<SiteDocument>(path, {}, signal);
        return { ...(await fetchAnswer<SiteStatus>(`${path}/status`, {}, signal)), document };
      },
      take: (answer) => this.#take(answer, answer.document),
      frame: (frame) => this.#frame(frame),
      failed: (refused) => (this.refused = refused),
    });
    return () => {
      leave();
      this.record?.stop();
    };
  }

  #take(answer: SiteStatus, document: SiteDocument): void {
    serverClock.set(answer.serverTime);
    this.site = readSite(answer);
    this.setup = resolveSite(this.id, document);
    this.address = answer.address;
    if (this.record) this.record.refresh();
    else this.record = new ChartRecord(siteSource(this.setup));
  }

  #frame(frame: Frame): void {
    serverClock.set(frame.serverTime);
    if (this.site) this.site = framed([this.site], frame)[0]!;
    this.record?.frame(frame);
  }
}
