import type { Instant } from '../shared/base/instant.ts';
import { MILLISECOND, SECOND } from '../shared/base/instant.ts';
import type { ArrivalRow } from '../db/arrivals.ts';
import type { KnownGateway } from './catalogue.ts';

/** Times of arrival for values that carry none: the clock's, but later than the last one of the same point. */
export class ArrivalClock {
  readonly #last = new Map<number, Instant>();

  next(id: number, receivedAt: Instant): Instant {
    const last = this.#last.get(id);
    const t = last !== undefined && last >= receivedAt ? last + 1 : receivedAt;
    this.#last.set(id, t);
    return t;
  }
}

/** How many messages of one gateway and minute are looked at for the median; further ones are only counted. */
const LOOKED_AT = 1_000;
const MINUTE = 60 * SECOND;

interface Late {
  readonly gateway: KnownGateway;
  readonly minute: Instant;
  count: number;
  readonly ms: number[];
}

/** How late messages come, gathered between two writes (diagnostics: what a killed process had gathered is lost). */
export class Lateness {
  /** by the gateway's `lifeId`, the newest minute last */
  #gathered = new Map<number, Late[]>();

  add(gateway: KnownGateway, claimed: Instant, receivedAt: Instant): void {
    const minute = Math.floor(receivedAt / MINUTE) * MINUTE;
    let own = this.#gathered.get(gateway.lifeId);
    if (!own) this.#gathered.set(gateway.lifeId, (own = []));
    let late = own.findLast((one) => one.minute === minute);
    if (!late) own.push((late = { gateway, minute, count: 0, ms: [] }));
    late.count++;
    if (late.ms.length < LOOKED_AT) late.ms.push((receivedAt - claimed) / MILLISECOND);
  }

  /** What was gathered since the last call, as rows in the order of their key. */
  take(): ArrivalRow[] {
    const gathered = [...this.#gathered.values()].flat().sort(byKey);
    this.#gathered = new Map();
    return gathered.map(({ gateway, minute, count, ms }) => {
      ms.sort((a, b) => a - b);
      return { site: gateway.site, gateway: gateway.id, minute, count, ...leastAndMedian(ms) };
    });
  }
}

const byKey = (a: Late, b: Late): number =>
  compare(a.gateway.site, b.gateway.site) || compare(a.gateway.id, b.gateway.id) || a.minute - b.minute;

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

const leastAndMedian = (sorted: readonly number[]) => ({
  leastMs: sorted[0] ?? 0,
  medianMs: sorted[sorted.length >> 1] ?? 0,
});
