import type { SamplesFrame } from '../../../shared/wire/frames.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import type { UnitView } from '../../../shared/wire/unit-view.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, type Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { readUnit } from '../view/read-answer.ts';
import type { UnitLineView } from '../view/site-view.ts';

/** What a unit's points read now, and what it does, from the live socket: to be read at the unit, from an arm's length. */
export interface LiveValue {
  readonly value: number | null;
  readonly t: number;
}

export class LiveValues {
  readonly #site: string;
  readonly #unit: string;
  readonly #heard: (frame: Frame) => void;
  view = $state.raw<UnitView | null>(null);
  unit = $state.raw<UnitLineView | null>(null);
  dataAt = $state<number | null>(null);
  /** by `<device>/<signal>`, newer than what the unit's fold has seen last */
  values = $state.raw<Readonly<Record<string, LiveValue>>>({});
  refused = $state.raw<Refused | null>(null);

  /** `heard`: whatever else the site's room tells */
  constructor(site: string, unit: string, heard: (frame: Frame) => void) {
    this.#site = site;
    this.#unit = unit;
    this.#heard = heard;
  }

  follow(): () => void {
    return followRoom<UnitView>({
      room: `site:${this.#site}`,
      fetch: (signal) =>
        fetchAnswer<UnitView>(
          `/sites/${encodeURIComponent(this.#site)}/units/${encodeURIComponent(this.#unit)}`,
          {},
          signal,
        ),
      take: (view) => this.#take(view),
      frame: (frame) => this.#frame(frame),
      failed: (refused) => (this.refused = refused),
    });
  }

  #take(view: UnitView): void {
    serverClock.set(view.serverTime);
    this.view = view;
    this.unit = readUnit(view.unit);
    this.dataAt = view.dataAt === null ? null : readInstant(view.dataAt);
  }

  #frame(frame: Frame): void {
    serverClock.set(frame.serverTime);
    this.#heard(frame);
    if (frame.kind === 'samples' && frame.site === this.#site) this.#samples(frame);
    if (frame.kind !== 'status') return;
    const site = frame.sites.find(({ id }) => id === this.#site);
    const unit = site?.units.find(({ id }) => id === this.#unit);
    if (unit) this.unit = readUnit(unit, this.unit ?? undefined);
    if (site?.dataAt) this.dataAt = readInstant(site.dataAt);
  }

  #samples({ points }: SamplesFrame): void {
    const newer = points.flatMap(({ device, signal, t, v }) =>
      t.length === 0
        ? []
        : [[`${device}/${signal}`, { t: readInstant(t.at(-1)!), value: v.at(-1)! }] as const],
    );
    if (newer.length > 0) this.values = { ...this.values, ...Object.fromEntries(newer) };
  }
}
