import type { ClockAnswer, ClockList } from '../../../shared/wire/clock-answer.ts';
import type { SiteDocument } from '../../../shared/wire/site-document.ts';
import { resolveSite } from '../../../shared/wire/resolve-site.ts';
import type { Site } from '../../../shared/telemetry/site.ts';
import type { SiteStatus } from '../../../shared/wire/status.ts';
import { ChartRecord } from '../chart/chart-record.svelte.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { framed } from '../view/framed.ts';
import { readSite } from '../view/read-answer.ts';
import type { SiteView } from '../view/site-view.ts';
import { siteSource } from './site-rows.ts';

const CLOCKS_AGAIN_MS = 60_000;

/** One site, live: what stands, its settings, and the record that its chart shows. */
export class LiveSite {
  readonly id: string;
  site = $state.raw<SiteView | null>(null);
  setup = $state.raw<Site | null>(null);
  address = $state<string | null>(null);
  record = $state.raw<ChartRecord | null>(null);
  refused = $state.raw<Refused | null>(null);
  clocks = $state.raw<readonly ClockAnswer[]>([]);

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
    const stop = new AbortController();
    void this.#askClocks(stop.signal);
    return () => {
      stop.abort();
      leave();
      this.record?.stop();
    };
  }

  /** Asked for by itself and seldom: what is said of a clock changes in minutes, and the page needn't wait for it. */
  async #askClocks(signal: AbortSignal): Promise<void> {
    try {
      const path = `/sites/${encodeURIComponent(this.id)}/clocks`;
      this.clocks = (await fetchAnswer<ClockList>(path, {}, signal)).items;
    } catch (error) {
      if (!signal.aborted && !(error instanceof Refused)) throw error; // else asked again in a minute
    }
    if (signal.aborted) return;
    const timer = setTimeout(() => void this.#askClocks(signal), CLOCKS_AGAIN_MS);
    signal.addEventListener('abort', () => clearTimeout(timer), { once: true });
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
