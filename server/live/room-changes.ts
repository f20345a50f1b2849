import type { AlarmAnswer } from '../../shared/wire/alarm-answer.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import type { EventFrame, SamplesFrame } from '../../shared/wire/frames.ts';
import type { SiteParts } from '../../shared/wire/status.ts';

/**
 * What a client of a room hasn't been told yet: the newest of each part, never a list that grows. A slow client finds the
 * latest state here when it is ready again; what was in between is gone, as it should be.
 */
export type PointSamples = SamplesFrame['points'][number];
export type Withdrawn = EventFrame['withdrawn'][number];

export interface RoomChange {
  readonly parts: readonly SiteParts[];
  readonly events: readonly EventAnswer[];
  readonly withdrawn: readonly Withdrawn[];
  readonly samples: readonly PointSamples[];
  readonly alarms: readonly AlarmAnswer[];
}

/** Bounds of what is kept for one client; past them it has to fetch again. */
const EVENTS_KEPT = 500;
const SAMPLES_KEPT = 2000;

export class Untold {
  #parts = new Map<string, Parts>();
  #events = new Map<string, EventAnswer>();
  #withdrawn = new Map<string, Withdrawn>();
  #samples = new Map<string, PointSamples>();
  #alarms = new Map<string, AlarmAnswer>();
  /** more happened than is kept: the next frame must not follow on */
  #overrun = false;

  get isEmpty(): boolean {
    return (
      !this.#overrun &&
      [this.#parts, this.#events, this.#withdrawn, this.#samples, this.#alarms].every(
        ({ size }) => size === 0,
      )
    );
  }

  add(change: RoomChange): void {
    for (const parts of change.parts) this.#parts.set(parts.id, joined(this.#parts.get(parts.id), parts));
    for (const event of change.events) {
      this.#withdrawn.delete(event.id);
      this.#events.set(event.id, event);
    }
    for (const one of change.withdrawn) {
      this.#events.delete(one.id);
      this.#withdrawn.set(one.id, one);
    }
    for (const point of change.samples) this.#addSamples(point);
    for (const alarm of change.alarms) this.#alarms.set(alarm.id, alarm);
    if (this.#events.size + this.#withdrawn.size + this.#alarms.size > EVENTS_KEPT) this.overrun();
  }

  overrun(): void {
    this.#overrun = true;
    this.#events.clear();
    this.#withdrawn.clear();
    this.#alarms.clear();
  }

  #addSamples(point: PointSamples): void {
    const key = `${point.device}/${point.signal}`;
    const before = this.#samples.get(key);
    const t = [...(before?.t ?? []), ...point.t];
    const v = [...(before?.v ?? []), ...point.v];
    const incomplete = (before?.incomplete ?? false) || point.incomplete || t.length > SAMPLES_KEPT;
    this.#samples.set(key, { ...point, t: t.slice(-SAMPLES_KEPT), v: v.slice(-SAMPLES_KEPT), incomplete });
  }

  /** Takes everything out. */
  take(): { change: RoomChange; overrun: boolean } {
    const change = {
      parts: [...this.#parts.values()].map(asParts),
      events: [...this.#events.values()],
      withdrawn: [...this.#withdrawn.values()],
      samples: [...this.#samples.values()],
      alarms: [...this.#alarms.values()],
    };
    const overrun = this.#overrun;
    this.#parts = new Map();
    this.#events = new Map();
    this.#withdrawn = new Map();
    this.#samples = new Map();
    this.#alarms = new Map();
    this.#overrun = false;
    return { change, overrun };
  }
}

/** A site's parts by id, so that the newer takes the place of the older. */
interface Parts {
  readonly head: Pick<SiteParts, 'id' | 'dataAt' | 'watchedThrough' | 'inferencePending'>;
  readonly units: ReadonlyMap<string, SiteParts['units'][number]>;
  readonly spaces: ReadonlyMap<string, SiteParts['spaces'][number]>;
  readonly panels: ReadonlyMap<string, SiteParts['panels'][number]>;
  readonly gateways: ReadonlyMap<string, SiteParts['gateways'][number]>;
}

function joined(before: Parts | undefined, { units, spaces, panels, gateways, ...head }: SiteParts): Parts {
  return {
    head,
    units: newer(before?.units, units),
    spaces: newer(before?.spaces, spaces),
    panels: newer(before?.panels, panels),
    gateways: newer(before?.gateways, gateways),
  };
}

const newer = <T extends { readonly id: string }>(
  before: ReadonlyMap<string, T> | undefined,
  now: readonly T[],
): ReadonlyMap<string, T> => new Map([...(before ?? []), ...now.map((one): [string, T] => [one.id, one])]);

const asParts = ({ head, units, spaces, panels, gateways }: Parts): SiteParts => ({
  ...head,
  units: [...units.values()],
  spaces: [...spaces.values()],
  panels: [...panels.values()],
  gateways: [...gateways.values()],
});
