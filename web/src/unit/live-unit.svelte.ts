import type { UnitView } from '../../../shared/wire/unit-view.ts';
import { ChartRecord } from '../chart/chart-record.svelte.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, type Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import { readUnit } from '../view/read-answer.ts';
import { unitSource } from './unit-source.ts';
import type { UnitLineView } from '../view/site-view.ts';

/** One unit, live: what stands, its settings and wiring, and the record that its chart shows. */
export class LiveUnit {
  readonly site: string;
  readonly id: string;
  view = $state.raw<UnitView | null>(null);
  unit = $state.raw<UnitLineView | null>(null);
  /** newest data of any gateway of the site */
  dataAt = $state<number | null>(null);
  record = $state.raw<ChartRecord | null>(null);
  refused = $state.raw<Refused | null>(null);

  constructor(site: string, id: string) {
    this.site = site;
    this.id = id;
  }

  follow(): () => void {
    const leave = followRoom<UnitView>({
      room: `site:${this.site}`,
      fetch: (signal) => fetchAnswer<UnitView>(`/sites/${this.site}/units/${this.id}`, {}, signal),
      take: (view) => this.#take(view),
      frame: (frame) => this.#frame(frame),
      failed: (refused) => (this.refused = refused),
    });
    return () => {
      leave();
      this.record?.stop();
    };
  }

  #take(view: UnitView): void {
    serverClock.set(view.serverTime);
    this.view = view;
    this.unit = readUnit(view.unit);
    this.dataAt = view.dataAt === null ? null : readInstant(view.dataAt);
    if (this.record) this.record.refresh();
    else this.record = new ChartRecord(unitSource(this.site, view));
  }

  #frame(frame: Frame): void {
    serverClock.set(frame.serverTime);
    if (frame.kind === 'status') {
      const site = frame.sites.find(({ id }) => id === this.site);
      const unit = site?.units.find(({ id }) => id === this.id);
      if (unit) this.unit = readUnit(unit, this.unit ?? undefined);
      if (site?.dataAt) this.dataAt = readInstant(site.dataAt);
    }
    this.record?.frame(frame);
  }
}
