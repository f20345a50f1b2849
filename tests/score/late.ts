import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { comparable, LittleStore } from '../fixtures/little-store.ts';
import { SUBJECT, type Case } from './case.ts';
import { dice } from './dice.ts';
import type { Heard } from './gateway-record.ts';
import { conclude } from './run-case.ts';

/** how many times the worker looks while rows come */
const STEPS = 12;
/** what an uplink may be away for, s */
const AWAY = [120, 900, 7_200, 20_000] as const;

/**
 * The same history as a gateway with a bad uplink delivers it: stretches of it hours late and all at once, some rows one by
 * one. Through a store that keeps checkpoints and rewinds it must come to the very same events.
 */
export function isSameWhenLate(one: Case): boolean {
  const chance = dice(one.seed * 31 + 5);
  const away = AWAY.map((duration) => {
    const from = one.from + (one.to - one.from) * chance.between(0, 1);
    return { from, to: from + seconds(duration) };
  });
  const arrived = one.heard
    .map((row) => ({
      row,
      at: arrivalOf(row, away) + (chance.chance(0.01) ? seconds(chance.spread(1, 900)) : 0),
    }))
    .sort((a, b) => a.at - b.at);
  const store = new LittleStore(unitFold, one.history, SUBJECT);
  for (let step = 1; step <= STEPS; step++) {
    const now = one.from + ((one.to - one.from) * step) / STEPS;
    const before = one.from + ((one.to - one.from) * (step - 1)) / STEPS;
    store.commit(arrived.filter(({ at }) => at > before && at <= now).map(({ row }) => row));
    store.step({ spans: [{ from: one.from, to: now }] });
    if (chance.chance(0.5)) store.checkpoint();
    if (chance.chance(0.1)) store.loseState();
  }
  store.commit(arrived.map(({ row }) => row));
  store.step({ spans: [{ from: one.from, to: one.to }] });
  return JSON.stringify(comparable(store.events())) === JSON.stringify(comparable(conclude(one).events));
}

function arrivalOf({ t }: Heard, away: readonly { readonly from: Instant; readonly to: Instant }[]): Instant {
  const held = away.filter(({ from, to }) => t >= from && t < to).map(({ to }) => to + SECOND);
  return Math.max(t, ...held);
}
